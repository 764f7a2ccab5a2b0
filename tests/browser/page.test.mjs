// The page for the customer in a real browser: nothing fetched, nothing run, nothing cut off, readable by everybody.
import assert from 'node:assert/strict';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { after, before, test } from 'node:test';
import { pathToFileURL } from 'node:url';

import axe from 'axe-core';
import { chromium } from 'playwright-core';

import { COMPLAINT, pages, size } from './jobs.mjs';

/** A small phone, and paper without its margins of 14 mm, at 96 pixels an inch. */
const PHONE_PX = 390;
const PAPER_PX = { A4: Math.floor(((210 - 28) / 25.4) * 96), Letter: Math.floor((8.5 - 28 / 25.4) * 96) };
/** Letters in drawings are not to be smaller than this on a phone. */
const SMALLEST_LETTER_PX = 9;
/** Pictures for people to look at. */
const PICTURES = resolve(import.meta.dirname, '../../target/browser');

const folder = mkdtempSync(join(tmpdir(), 'pintle-pages-'));
const written = pages(folder);
let browser;

before(async () => {
  mkdirSync(PICTURES, { recursive: true });
  browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
});

after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true });
});

/** Opens a page; `heard` collects what it asks for and complains of. */
async function opened(path, options) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  const url = pathToFileURL(path).href;
  const heard = [];
  page.on('console', (message) => heard.push(`console: ${message.text()}`));
  page.on('pageerror', (error) => heard.push(`error: ${error.message}`));
  page.on('dialog', (dialog) => { heard.push('dialog'); dialog.dismiss(); });
  page.on('request', (request) => {
    if (request.url() !== url && !request.url().startsWith('data:')) heard.push(`request: ${request.url()}`);
  });
  await page.goto(url, { waitUntil: 'load' });
  return { context, page, heard };
}

/** What sticks out on the right, beyond boxes that scroll by themselves on a screen. */
const stickingOut = (mayScroll) => {
  const width = document.documentElement.clientWidth;
  const out = [...document.querySelectorAll('body *')].filter((element) => {
    if (mayScroll && element.closest('.wide')) return false;
    return element.getBoundingClientRect().right > width + 1;
  });
  const names = out.map((element) => `${element.tagName} ${element.textContent.trim().slice(0, 40)}`);
  if (document.documentElement.scrollWidth > width) names.push(`page of ${document.documentElement.scrollWidth} px`);
  return names;
};

for (const [name, path] of written) {
  test(`${name}: fetches nothing, runs nothing, complains of nothing`, async () => {
    const { context, page, heard } = await opened(path, { viewport: { width: 1000, height: 800 } });
    assert.deepEqual(heard, []);
    const said = name.startsWith('the demo') ? 'runs rough' : COMPLAINT;
    assert.ok((await page.textContent('header')).includes(said), 'the complaint shows as it was said');
    assert.equal(await page.locator('script, img, iframe').count(), 0);
    assert.ok(size(path) < 400_000);
    await page.screenshot({ path: join(PICTURES, `${name}.png`), fullPage: true });
    await context.close();
  });

  test(`${name}: fits a phone, and its drawings can be read there`, async () => {
    const { context, page } = await opened(path, { viewport: { width: PHONE_PX, height: 800 }, isMobile: true });
    assert.deepEqual(await page.evaluate(stickingOut, true), []);
    const letters = await page.evaluate(() => {
      const scale = (text) => text.ownerSVGElement.getScreenCTM().a;
      const texts = [...document.querySelectorAll('svg text')];
      return texts.map((text) => scale(text) * parseFloat(getComputedStyle(text).fontSize));
    });
    assert.ok(letters.length > 20 && Math.min(...letters) >= SMALLEST_LETTER_PX, `${Math.min(...letters)} px`);
    const cut = await page.evaluate(() => [...document.querySelectorAll('svg.drawing text')]
      .filter((text) => {
        const [box, drawing] = [text.getBoundingClientRect(), text.ownerSVGElement.getBoundingClientRect()];
        return box.left < drawing.left - 1 || box.right > drawing.right + 1 || box.bottom > drawing.bottom + 1;
      })
      .map((text) => text.textContent));
    assert.deepEqual(cut, [], 'no words are cut off at the edge of a drawing');
    await page.screenshot({ path: join(PICTURES, `${name}, phone.png`), fullPage: true });
    await context.close();
  });

  test(`${name}: nothing is cut off on paper`, async () => {
    for (const [paper, width] of Object.entries(PAPER_PX)) {
      const { context, page } = await opened(path, { viewport: { width, height: 1000 } });
      await page.emulateMedia({ media: 'print' });
      assert.deepEqual(await page.evaluate(stickingOut, false), [], paper);
      await page.pdf({ path: join(PICTURES, `${name}, ${paper}.pdf`), format: paper });
      await context.close();
    }
  });

  test(`${name}: can be read by everybody`, async () => {
    for (const width of [PHONE_PX, 1000]) {
      // the page itself forbids scripts: the checker comes in past that
      const { context, page } = await opened(path, { viewport: { width, height: 800 }, bypassCSP: true });
      await page.evaluate(axe.source);
      const { violations, passes } = await page.evaluate(() => window.axe.run());
      const found = violations.map((one) => `${one.id}: ${one.nodes.map((node) => node.html.slice(0, 80)).join(' | ')}`);
      assert.deepEqual(found, []);
      const checked = passes.map((one) => one.id);
      for (const rule of ['color-contrast', 'svg-img-alt']) assert.ok(checked.includes(rule), `${rule} was looked at`);
      await context.close();
    }
  });
}
