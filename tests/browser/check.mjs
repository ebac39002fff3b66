// What a reader's browser makes of a page: no network, no script needed, no sideways scrolling at phone width, chart
// text large enough, WCAG 2.1 AA by axe-core, valid HTML, and a print on A4 and Letter with a running head, every
// folded row open, and no heading left at the foot of a sheet. A deck is printed one slide a sheet of 16:9 instead, moves by
// keys, and shows every slide and note where no script runs.
//
// Usage: node tests/browser/check.mjs PAGE.html OUT-FOLDER [print]   (packages from build/browser, see .ci/make/browser.mk)
// print: nothing but A4 and Letter.
import { createRequire } from 'node:module';
import { createHash } from 'node:crypto';
import { execFileSync } from 'node:child_process';
import fs from 'node:fs';
import path from 'node:path';

const [page_path, out] = process.argv.slice(2, 4).map((name) => path.resolve(name));
const print_only = process.argv[4] === 'print';
const require = createRequire(path.resolve('build/browser/package.json'));
const puppeteer = require('puppeteer-core');
const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
const { HtmlValidate } = require('html-validate');

const widths = [360, 768, 1280];
const least_chart_text_px = 11;
const most_sheets = 45; // of an audit in print, whatever the practice: what is worth printing at all
const html = fs.readFileSync(page_path, 'utf8');
const is_deck = html.includes('<section class="slide"');
const largest_picture_px = 16000; // what the browser paints in one picture
const faults = [];
let checks = 0;

function expect(holds, words) {
    checks += 1;
    if (!holds) faults.push(words);
}

async function open(browser, width) {
    const page = await browser.newPage();
    await page.setViewport({ width, height: 900, deviceScaleFactor: 1 });
    const asked = [];
    page.on('request', (request) => asked.push(request.url()));
    await page.setJavaScriptEnabled(false);
    await page.goto(`file://${page_path}`, { waitUntil: 'load' });
    expect(asked.length === 1, `${width} px: the page asks for ${asked.slice(1).join(', ')}`);
    return page;
}

function measure() {
    const visible = (element) => element.getClientRects().length > 0;
    const texts = [...document.querySelectorAll('figure svg text')].filter(visible);
    const small = texts.filter((text) => {
        const scale = text.getScreenCTM().d;
        return parseFloat(getComputedStyle(text).fontSize) * Math.abs(scale) < 11 - 0.05;
    });
    const wide = [...document.querySelectorAll('body *')].filter((element) => visible(element) &&
        !element.closest('.scroll') && !element.closest('svg') && !element.closest('.skip') &&
        element.getBoundingClientRect().right > innerWidth + 0.5);
    return {
        overflow: document.documentElement.scrollWidth - innerWidth,
        widest: wide.slice(0, 3).map((element) => `${element.tagName}.${element.className}`),
        charts: [...document.querySelectorAll('figure svg')].filter(visible).length,
        texts: texts.length,
        small: small.slice(0, 3).map((text) => text.textContent),
        targets: [...document.querySelectorAll('nav a, input')].filter(visible)
            .filter((element) => element.getBoundingClientRect().height < 18).length,
        unclear: [...document.querySelectorAll('figure svg')].filter(visible).flatMap(unclear_texts),
    };

    // Texts of a drawing that touch each other or leave it. Boxes of text are taller than their letters.
    function unclear_texts(svg) {
        const frame = svg.getBoundingClientRect(), name = svg.closest('section').id, found = [];
        const boxes = [...svg.querySelectorAll('text')].filter((text) => text.textContent.trim() !== '').map((text) => {
            const box = text.getBoundingClientRect(), spare = box.height * 0.2;
            return { text: text.textContent, left: box.left, right: box.right, top: box.top + spare, bottom: box.bottom - spare };
        });
        boxes.forEach((a, i) => {
            if (a.left < frame.left - 1 || a.right > frame.right + 1 || a.top < frame.top - 1 || a.bottom > frame.bottom + 1)
                found.push(`${name}: "${a.text}" leaves the drawing`);
            for (const b of boxes.slice(0, i))
                if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1)
                    found.push(`${name}: "${a.text}" touches "${b.text}"`);
        });
        return found;
    }
}

async function check_width(browser, width) {
    const page = await open(browser, width);
    const found = await page.evaluate(measure);
    expect(found.overflow <= 0, `${width} px: scrolls sideways by ${found.overflow} (${found.widest})`);
    expect(found.widest.length === 0, `${width} px: reaches over the edge: ${found.widest}`);
    expect(found.small.length === 0, `${width} px: chart text under ${least_chart_text_px} px: ${found.small}`);
    for (const text of found.unclear) expect(false, `${width} px: ${text}`);
    expect(found.charts === 0 || found.texts > 0, `${width} px: the charts have no text`);
    expect(found.targets === 0, `${width} px: ${found.targets} links or switches are too small to hit`);
    const height = Math.min(largest_picture_px, await page.evaluate(() => document.documentElement.scrollHeight));
    await page.screenshot({ path: path.join(out, `page-${width}.png`), clip: { x: 0, y: 0, width, height } });
    if (width === 768) { // axe looks at the phone and at the desk; between them only lengths differ
        await page.close();
        return found;
    }
    await page.setJavaScriptEnabled(true);
    await page.setBypassCSP(true);
    await page.reload({ waitUntil: 'load' });
    await page.evaluate(axe);
    const result = await page.evaluate(() => globalThis.axe.run(document, {
        runOnly: { type: 'tag', values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'] },
    }));
    expect(result.passes.length > 10, `${width} px: axe looked at nothing`);
    for (const violation of result.violations)
        expect(false, `${width} px: ${violation.id}: ${violation.help}: ${violation.nodes.length} places, first ` +
            `${violation.nodes[0].target} ${violation.nodes[0].failureSummary.replace(/\s+/g, ' ')}`);
    await page.close();
    return found;
}

async function check_unfolding(browser) {
    const page = await open(browser, 390);
    const count = () => [...document.querySelectorAll('tbody tr')].filter((row) => row.getClientRects().length).length;
    const before = await page.evaluate(count);
    const switches = await page.$$('.unfold input');
    for (const item of switches) {
        await item.focus();
        await page.keyboard.press('Space');
    }
    const after = await page.evaluate(count);
    const all = await page.evaluate(() => document.querySelectorAll('tbody tr').length);
    expect(switches.length === 0 || before < all, 'long tables are not folded on screen');
    expect(after === all, `unfolding by keyboard shows ${after} of ${all} rows`);
    await page.close();
}

// A reader who stops after the first sheet knows the answer: at most five sentences and three decisions, all on it, and nothing
// else.
function check_first_sheet(first, sheets, format) {
    if (!first.glance) return;
    expect(first.sentences >= 1 && first.sentences <= 5, `first page: ${first.sentences} sentences`);
    expect(first.decisions >= 1 && first.decisions <= 3, `first page: ${first.decisions} decisions`);
    const sheet = squeeze(sheets[0]);
    const lost = first.texts.filter((text) => !sheet.includes(squeeze(text)));
    expect(lost.length === 0, `${format}: not on the first sheet: ${lost[0]}`);
    expect(!sheet.includes(squeeze(first.next)), `${format}: the first sheet goes on with "${first.next}"`);
    expect(squeeze(sheets[1]).includes(squeeze(first.next)), `${format}: the second sheet does not begin with "${first.next}"`);
}

// Nothing may reach over the edge of the printed sheet: laid out at the width between the margins of 15 mm.
async function check_sheet_width(browser, format, millimetres) {
    const width = Math.floor((millimetres - 30) * 96 / 25.4);
    const page = await open(browser, width);
    await page.emulateMediaType('print');
    const over = await page.evaluate(() => [...document.querySelectorAll('main *')]
        .filter((element) => !element.closest('svg') && element.getClientRects().length > 0 &&
            element.getBoundingClientRect().right > innerWidth + 1)
        .map((element) => `${element.closest('section').id} ${element.tagName} ${element.textContent.slice(0, 40)}`));
    expect(over.length === 0, `${format}: ${over.length} elements reach over the sheet, first ${over[0]}`);
    await page.close();
}

const squeeze = (text) => text.replace(/\s+/g, '');

// The words of each printed sheet in the order they were set, with the height at which each stands.
function placed_words(file) {
    const listing = execFileSync('pdftotext', ['-bbox', file, '-'], { maxBuffer: 1 << 28 }).toString();
    const plain = (text) => text.replace(/&lt;/g, '<').replace(/&gt;/g, '>').replace(/&quot;/g, '"').replace(/&apos;|&#39;/g, "'")
        .replace(/&amp;/g, '&');
    return listing.split('<page ').slice(1).map((sheet) => {
        let flat = '';
        const starts = [];
        for (const [, left, top, text] of sheet.matchAll(/xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>([^<]*)</g)) {
            starts.push({ at: flat.length, left: Number(left), top: Number(top), word: squeeze(plain(text)) });
            flat += squeeze(plain(text));
        }
        const word_at = (at) => starts.findLast((start) => start.at <= at);
        return { flat, words: starts, word_at };
    });
}

// A heading, or the caption of a table, stands above what follows it: on the same sheet and in the same column.
function check_headings(heads, sheets, format) {
    expect(heads.length > 0, `${format}: the page has no headings`);
    for (const { head, next } of heads) {
        const wanted = squeeze(head), follows = next.trim().split(/\s+/)[0];
        if (follows === '') continue;
        const together = sheets.some(({ flat, words, word_at }) => {
            for (let at = flat.indexOf(wanted); at >= 0; at = flat.indexOf(wanted, at + 1)) {
                const end = at + wanted.length, next_at = flat.indexOf(follows, end);
                if (next_at >= 0 && word_at(next_at).top > word_at(end - 1).top) return true;
                // the listing may give the text before its heading: then it begins below it, at the same edge
                if (words.some(({ left, top, word }) => word === follows && Math.abs(left - word_at(at).left) < 2 &&
                    top > word_at(end - 1).top && top < word_at(end - 1).top + 60)) return true;
            }
            return false;
        });
        expect(together, `${format}: "${head}" is cut off from what follows`);
    }
}

async function check_print(browser, format) {
    const page = await open(browser, 1280);
    const file = path.join(out, `page-${format}.pdf`);
    await page.pdf({ path: file, format, preferCSSPageSize: false, printBackground: false, timeout: 300000 });
    const sheets = execFileSync('pdftotext', ['-layout', file, '-'], { maxBuffer: 1 << 28 }).toString()
        .split('\f').slice(0, -1);
    const words = await page.evaluate(() => ({
        practice: document.querySelector('.masthead .practice')?.textContent ?? '',
        period: document.querySelector('.masthead .period').textContent.replace(/^Period: /, ''),
        heads: [...document.querySelectorAll('h2, h3, caption')].map((head) => ({
            head: head.textContent,
            next: (head.tagName === 'CAPTION' ? head.parentElement.tHead.querySelector('th') : head.nextElementSibling)?.textContent ?? '',
        })),
        rows: [...document.querySelectorAll('tbody tr:not(.on-screen) th')].map((head) => head.textContent),
        cut: [...document.querySelectorAll('table')].filter((table) => table.querySelector('.on-screen') !== null)
            .map((table) => table.querySelector('caption .in-print')?.textContent ?? ''),
        first: {
            glance: document.querySelector('#at-a-glance') !== null,
            sentences: document.querySelectorAll('#at-a-glance li').length,
            decisions: document.querySelectorAll('#to-decide li').length,
            texts: [...document.querySelectorAll('#at-a-glance li, #to-decide li')].map((item) => item.textContent),
            next: document.querySelector('#to-decide + .chapter h2')?.textContent ?? '',
        },
    }));
    sheets.forEach((sheet, i) => {
        const flat = squeeze(sheet);
        const name = `${format} sheet ${i + 1}`;
        expect(flat.includes(squeeze(`${i + 1} of ${sheets.length}`)), `${name}: no page number`);
        expect(flat.includes(squeeze(words.practice)), `${name}: not the practice's name`);
        expect(flat.includes(squeeze(words.period)), `${name}: not the period`);
        expect(flat.includes('Recordsto'), `${name}: not the data date`);
    });
    check_first_sheet(words.first, execFileSync('pdftotext', ['-raw', '-l', '2', file, '-']).toString().split('\f'), format);
    // in reading order, so that a cell of two lines stays together
    const all = squeeze(execFileSync('pdftotext', ['-raw', file, '-'], { maxBuffer: 1 << 28 }).toString());
    const lost = words.rows.filter((row) => !all.includes(squeeze(row)));
    expect(lost.length === 0, `${format}: ${lost.length} table rows are not printed, first ${lost[0]}`);
    for (const note of words.cut)
        expect(note !== '' && all.includes(squeeze(note)), `${format}: rows or columns are left out and the sheet does not say so: "${note}"`);
    check_headings(words.heads, placed_words(file), format);
    if (words.first.glance) expect(sheets.length <= most_sheets, `${format}: ${sheets.length} sheets, more than ${most_sheets}`);
    await page.close();
    return sheets.length;
}

// Where no script runs the slides and the notes stand one below the other.
async function check_without_script(browser) {
    const page = await open(browser, 1280);
    const found = await page.evaluate(() => {
        const visible = (element) => element.getClientRects().length > 0;
        const slides = [...document.querySelectorAll('.slide')];
        return { slides: slides.length, hidden: slides.filter((slide) => !visible(slide)).map((slide) => slide.id),
            notes: document.querySelectorAll('.notes').length,
            hidden_notes: [...document.querySelectorAll('.notes')].filter((note) => !visible(note)).length };
    });
    expect(found.slides > 1 && found.notes > 0, 'the deck has no slides or no notes');
    expect(found.hidden.length === 0, `without a script these slides are lost: ${found.hidden}`);
    expect(found.hidden_notes === 0, `without a script ${found.hidden_notes} notes are lost`);
    await page.close();
}

// The number of the slide nearest to the top of the window, once it has come to rest.
async function slide_in_view(page) {
    const top = () => page.evaluate(() => [scrollY, [...document.querySelectorAll('.slide')]
        .map((slide, i) => [Math.abs(slide.getBoundingClientRect().top), i]).sort((a, b) => a[0] - b[0])[0][1]]);
    let before = [-1, -1], now = await top();
    for (let i = 0; i < 40 && before[0] !== now[0]; i++) {
        await new Promise((done) => setTimeout(done, 150));
        [before, now] = [now, await top()];
    }
    return now[1];
}

async function check_keys(browser) {
    const page = await browser.newPage();
    await page.setViewport({ width: 1280, height: 720, deviceScaleFactor: 1 });
    await page.goto(`file://${page_path}`, { waitUntil: 'load' });
    const last = await page.evaluate(() => document.querySelectorAll('.slide').length - 1);
    const moves = [['ArrowRight', 1], ['PageDown', 2], ['Space', 3], ['ArrowLeft', 2], ['PageUp', 1], ['End', last],
        ['ArrowRight', last], ['Home', 0], ['ArrowLeft', 0]];
    for (const [key, wanted] of moves) {
        await page.keyboard.press(key);
        const at = await slide_in_view(page);
        expect(at === wanted, `${key}: slide ${at + 1} is shown, not ${wanted + 1}`);
    }
    const notes = () => page.evaluate(() => document.querySelector('.notes').getClientRects().length > 0);
    expect(!await notes(), 'the notes are shown to the room');
    await page.keyboard.press('n');
    expect(await notes(), 'n does not show the notes');
    await page.keyboard.press('n');
    expect(!await notes(), 'n does not put the notes away');
    await page.close();
}

// One slide a sheet of 16:9, whole: nothing cut off at its edge, nothing under the line at its foot.
async function check_slide_print(browser) {
    const page = await open(browser, 1280);
    const file = path.join(out, 'page-slides.pdf');
    await page.pdf({ path: file, preferCSSPageSize: true, printBackground: false });
    const sheets = execFileSync('pdftotext', ['-raw', file, '-'], { maxBuffer: 1 << 28 }).toString().split('\f').slice(0, -1);
    const size = execFileSync('pdfinfo', [file]).toString().match(/Page size: *([\d.]+) x ([\d.]+)/).slice(1).map(Number);
    expect(Math.abs(size[0] / size[1] - 16 / 9) < 0.01, `the sheet is ${size.join(' by ')} points, not 16:9`);
    await page.emulateMediaType('print');
    const slides = await page.evaluate(() => [...document.querySelectorAll('.slide')].map((slide) => {
        const visible = (element) => element.getClientRects().length > 0;
        const box = slide.getBoundingClientRect(), foot = slide.querySelector('.foot').getBoundingClientRect();
        const parts = [...slide.querySelectorAll('h1, h2, p, li, td, th, svg, text')]
            .filter((part) => visible(part) && !part.closest('.foot'));
        const name = (part) => `${part.tagName} ${part.textContent.trim().slice(0, 40)}`;
        const boxes = parts.map((part) => [part, part.getBoundingClientRect()]);
        return {
            id: slide.id,
            texts: parts.filter((part) => part.matches('h1, h2, p, li')).map((part) => part.textContent),
            cut: boxes.filter(([, at]) => at.top < box.top || at.bottom > box.bottom || at.right > box.right + 1).map(([part]) => name(part)),
            under: boxes.filter(([, at]) => at.bottom > foot.top + 1 && at.right > foot.left && at.left < foot.right)
                .map(([part]) => name(part)),
        };
    }));
    expect(sheets.length === slides.length, `${slides.length} slides are printed on ${sheets.length} sheets`);
    slides.forEach((slide, i) => {
        const sheet = squeeze(sheets[i] ?? '');
        const lost = slide.texts.filter((text) => !sheet.includes(squeeze(text)));
        expect(slide.texts.length > 0 && lost.length === 0, `slide ${slide.id}: not on its sheet: ${lost[0]}`);
        expect(slide.cut.length === 0, `slide ${slide.id}: cut off in print: ${slide.cut.slice(0, 2)}`);
        expect(slide.under.length === 0, `slide ${slide.id}: runs into the foot in print: ${slide.under.slice(0, 2)}`);
    });
    await page.close();
    return sheets.length;
}

function check_markup() {
    const validator = new HtmlValidate({
        extends: ['html-validate:standard'],
        rules: {
            'no-inline-style': 'off', 'long-title': 'off', 'no-trailing-whitespace': 'off',
            'svg-focusable': 'off', 'void-style': 'off', 'no-raw-characters': 'off',
            'attribute-boolean-style': 'off', 'require-sri': 'off', 'prefer-native-element': 'off',
        },
    });
    const report = validator.validateStringSync(html);
    for (const result of report.results)
        for (const message of result.messages.slice(0, 20))
            expect(false, `HTML ${message.line}:${message.column}: ${message.ruleId}: ${message.message}`);
    expect(report !== undefined, 'no report');
    const bare = html.replace(/<data[^>]*>|<title>[^<]*/g, '');
    expect(!/<[^>]*\son[a-z]+=|javascript:/i.test(bare), 'the page has a script in an attribute');
    expect((bare.match(/<script/gi) ?? []).length === (is_deck ? 1 : 0), 'the page has a script that is not its own');
    // the policy lets only the deck's own script run
    for (const [, script] of html.matchAll(/<script>([^]*?)<\/script>/g))
        expect(html.includes(`script-src 'sha256-${createHash('sha256').update(script).digest('base64')}'`),
            'the script is not the one the policy allows');
}

fs.mkdirSync(out, { recursive: true });
const browser = await puppeteer.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
        '--disable-component-update', '--disable-sync'],
    userDataDir: path.join(out, 'profile'),
});
try {
    check_markup();
    for (const width of print_only ? [] : widths) {
        const found = await check_width(browser, width);
        console.log(`${width} px: ${found.charts} charts, ${found.texts} chart texts`);
    }
    if (is_deck) {
        await check_without_script(browser);
        await check_keys(browser);
        console.log(`16:9: ${await check_slide_print(browser)} sheets`);
    } else {
        if (!print_only) await check_unfolding(browser);
        await check_sheet_width(browser, 'A4', 210);
        await check_sheet_width(browser, 'Letter', 215.9);
        for (const format of ['A4', 'Letter'])
            console.log(`${format}: ${await check_print(browser, format)} sheets`);
    }
} finally {
    await browser.close();
    fs.rmSync(path.join(out, 'profile'), { recursive: true, force: true });
}
for (const fault of faults) console.log(`fault: ${fault}`);
console.log(`browser: ${checks} checks, ${faults.length} faults`);
process.exit(faults.length > 0 ? 1 : 0);
