// node heap32.mjs PACKAGE FOLDER STEPS: the heap in use after each step of heap32_script.py
// under MicroPython's WebAssembly port, whose objects have 32 bits as a board's do.
import fs from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';

const [packageFolder, folder, steps] = process.argv.slice(2);
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

function used() {
  python.runPython('import gc\ngc.collect()');
  python.runPython('gc.collect()');
  python.runPython('used = gc.mem_alloc()');
  return python.globals.get('used');
}

copy(folder, '/firmware');
python.FS.mkdir('/store');
python.runPython('import sys\nsys.path.insert(0, "/firmware")');
console.log(`interpreter ${used()}`);
python.runPython('import heap32_script\nsteps = heap32_script.STEPS');
console.log(`script ${used()}`);
for (let step = 0; step < Number(steps); step += 1) {
  python.runPython(`steps[${step}]()`);
  console.log(`${step} ${used()}`);
}
