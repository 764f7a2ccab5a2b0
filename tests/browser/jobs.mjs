// Jobs to write pages of, made by the program itself from the stored captures.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';

const ROOT = resolve(import.meta.dirname, '../..');
const PROGRAM = join(process.env.CARGO_TARGET_DIR ?? join(ROOT, 'target'), 'debug/pintle');

/** What an owner might say, and what must never run or break the page. */
export const COMPLAINT =
  'Shakes at idle <script>alert(1)</script> & "hesitates" ' + 'Averylongwordwithoutanyblank'.repeat(6);

const READINGS = [100, 99, 70, 101]
  .map((ml, index) => `[[injector]]\ncylinder = ${index + 1}\nohms = 12.${index}\nclick = true\nvolume_ml = ${ml}\n` +
    `volume_after_ml = 10${index}\ndrops_per_minute = 0\nrpm_drop = ${80 + index}\n`)
  .join('\n');

function pintle(folder, ...words) {
  return execFileSync(PROGRAM, words, { cwd: folder, encoding: 'utf8', stdio: ['ignore', 'pipe', 'ignore'] }).trim();
}

/** Opens a job with captures laid into it under the names given, which tell the day: the stored ones were all made on one. */
function open(folder, job, captures) {
  pintle(folder, 'job', 'new', job, '--label', job, '--complaint', COMPLAINT, '--mileage', '148200km', '--no-questions');
  for (const [name, stored] of Object.entries(captures)) {
    const capture = gunzipSync(readFileSync(join(ROOT, 'captures', `${stored}.capture.csv.gz`))).toString();
    const day = name.match(/\d{4}-\d{2}-\d{2}/)[0];
    const dated = capture.replace(/"started":"[^T]*/, `"started":"${day}`);
    writeFileSync(join(folder, job, 'captures', `${name}.capture.csv.gz`), gzipSync(dated));
  }
}

/** Writes a page of each kind into the folder and gives their paths by name. */
export function pages(folder) {
  open(folder, 'van 3, mended', {
    'before-2026-11-20-101500': 'van3-injector-3-down-30',
    'after-2026-11-22-101500': 'van3-healthy',
  });
  writeFileSync(join(folder, 'readings.toml'), `coil_temperature_c = 20\n[rail]\npressure_kpa = 379\n${READINGS}`);
  pintle(folder, 'bench', 'readings.toml', '--job', 'van 3, mended');
  pintle(folder, 'job', 'done', 'van 3, mended', 'Injectors removed and cleaned on the bench', '--cost', '180');
  open(folder, 'wagon 2, as it came', { 'before-2026-11-20-101500': 'wagon2-bank-2-lean-injectors' });
  open(folder, 'van 7, not the injectors', { 'before-2026-11-20-101500': 'van7-weak-coil-2' });
  pintle(folder, 'demo', '--short', '--fast', '--no-screen', '--out', 'the demo');
  // two banks: the longest names in the drawings
  const wagon = ['--car', 'wagon2', '--fault', 'injector_restricted:5:25'];
  pintle(folder, 'demo', ...wagon, '--short', '--fast', '--no-screen', '--out', 'the demo on two banks');
  const write = (job) => [job, resolve(folder, pintle(folder, 'report', job))];
  const jobs = ['van 3, mended', 'wagon 2, as it came', 'van 7, not the injectors', 'the demo', 'the demo on two banks'];
  return new Map(jobs.map(write));
}

/** Size of a file, bytes. */
export const size = (path) => readFileSync(path).length;
