// Runs one Python file under MicroPython: node run.mjs FOLDER_OF_MICROPYTHON MAIN.py OTHER.py ...
import fs from 'node:fs';
import path from 'node:path';
import {pathToFileURL} from 'node:url';

const [folder, main, ...others] = process.argv.slice(2);
const {loadMicroPython} = await import(pathToFileURL(path.resolve(folder, 'micropython.mjs')).href);
const python = await loadMicroPython({heapsize: 4 * 1024 * 1024, linebuffer: true, stdout: (line) => console.log(line)});
for (const file of others) {
    python.FS.writeFile('/' + path.basename(file), fs.readFileSync(file));
}
python.runPython("import sys; sys.path.append('/')");
python.runPython(fs.readFileSync(main, 'utf8'));
