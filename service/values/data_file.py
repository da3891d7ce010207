"""The data files that come with a package: one way to read them and to say what is wrong."""

import tomllib
from importlib.resources import files
from typing import TypeVar

from pydantic import BaseModel, ValidationError

from service.errors import BadFile

_Model = TypeVar("_Model", bound=BaseModel)


def data_text(package: str, name: str) -> str:
    """The text of a file of a package."""
    return files(package).joinpath(name).read_text(encoding="utf-8")


def read_data(package: str, name: str, model: type[_Model]) -> _Model:
    """A TOML file of a package, as the model of it.

    Raises:
        BadFile: not TOML, or not as the model has it.
    """
    try:
        return model.model_validate(tomllib.loads(data_text(package, name)))
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise BadFile(name, str(error)) from error
