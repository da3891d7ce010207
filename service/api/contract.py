"""The OpenAPI document, as committed under ``openapi/``.

    python -m service.api.contract openapi/reedgate.json
"""

import json
import sys
from pathlib import Path

from service.api.app import create_app


def document() -> str:
    """The contract as JSON text, keys in order."""
    return json.dumps(create_app(Path("unused.db")).openapi(), indent=1, ensure_ascii=False, sort_keys=True) + "\n"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(document(), encoding="utf-8")
