// node heap32.mjs PACKAGE FOLDER: the heap in use after each step of heap32_script.py, and what
// that says, under MicroPython's WebAssembly port, whose objects have 32 bits as a board's do.
import fs from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';

const [packageFolder, folder] = process.argv.slice(2);
const entry = pathToFileURL(path.join(packageFolder, 'micropython.mjs'));
const { loadMicroPython } = await import(entry);
const python = await loadMicroPython({ heapsize: 512 * 1024, linebuffer: true });

function copy(from, to) {
  python.FS.mkdir(to);
  for (const name of fs.readdirSync(from)) {
    const source = path.join(from, name);
    if (fs.statSync(source).isDirectory()) copy(source, `${to}/${name}`);
    else if (name.endsWith('.mpy')) python.FS.writeFile(`${to}/${name}`, fs.readFileSync(source));
  }
}

function tell(name) {
  python.runPython('import gc\ngc.collect()');
  python.runPython('gc.collect()');
  python.runPython('used = gc.mem_alloc()');
  if (name) console.log(`heap ${python.globals.get('used')} ${name}`);
}

copy(folder, '/firmware');
python.FS.mkdir('/store');
python.runPython('import sys\nsys.path.insert(0, "/firmware")');
tell('the interpreter itself');
python.runPython('from heap32_script import STEPS\ncount = len(STEPS)');
tell('the measuring script, a model of the converter');
for (let at = 0; at < python.globals.get('count'); at += 1) {
  python.runPython(`name, step = STEPS[${at}]\nstep()`);
  tell(python.globals.get('name'));
}
