// One plant: names offered while one types.

import { installNames } from "./names.js";

export function open(main) {
  installNames(main.querySelector("#label"));
}
