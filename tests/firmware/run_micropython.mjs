// Runs fake_board.py under MicroPython: node run_micropython.mjs <micropython.mjs> <fake_board.py> <script.json>
import { readFileSync } from "node:fs";
import { pathToFileURL } from "node:url";

const [engine, board, script] = process.argv.slice(2);
const { loadMicroPython } = await import(pathToFileURL(engine).href);
const micropython = await loadMicroPython({ stdout: (line) => console.log(line), linebuffer: true });
micropython.globals.set("SCRIPT_TEXT", readFileSync(script, "utf8"));
micropython.runPython("import json, sys\nSCRIPT = json.loads(SCRIPT_TEXT)\nsys.path.insert(0, '')");
micropython.runPython(readFileSync(board, "utf8"));
micropython.runPython("play(SCRIPT)");
