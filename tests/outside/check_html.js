// Sheets as HTML in a browser: axe-core's rules of WCAG 2.2 (A and AA), nothing wider than a phone, nothing that runs.
//
//   npm install axe-core@4 playwright-core@1 html-validate@9    (in a folder of its own; Chromium of Debian 12)
//   node check_html.js FILE.html ...
//   npx html-validate FILE.html ...                              (with {"extends": ["html-validate:standard"]})
//
// Each file is opened by day and by night. Ends with 1 where a rule is broken. `--selftest` shows that each check can fail.
const { chromium } = require('playwright-core');
const fs = require('fs');
const os = require('os');
const path = require('path');

const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
const BROKEN = `<!DOCTYPE html><html><head><title></title></head><body><img src="x">
<p style="color:#ccc;background:#fff;width:900px">pale and wide</p><script>alert(1)</script></body></html>`;

async function look(browser, file, colorScheme) {
  const context = await browser.newContext({ colorScheme, viewport: { width: 390, height: 800 } });
  const page = await context.newPage();
  const wrong = [];
  page.on('dialog', (dialog) => { wrong.push('something ran'); dialog.dismiss(); });
  await page.goto('file://' + path.resolve(file));
  await page.evaluate(fs.readFileSync(require.resolve('axe-core'), 'utf8'));
  const found = await page.evaluate((rules) => axe.run(document, { runOnly: rules }), RULES);
  for (const rule of found.violations) wrong.push(`${rule.id}: ${rule.nodes[0].html.slice(0, 120)}`);
  const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (over > 0) wrong.push(`${over} pixels wider than the screen`);
  await context.close();
  return wrong;
}

(async () => {
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
  let failed = false;
  if (process.argv[2] === '--selftest') {
    const file = path.join(fs.mkdtempSync(path.join(os.tmpdir(), 'sheet-')), 'broken.html');
    fs.writeFileSync(file, BROKEN);
    const wrong = (await look(browser, file, 'light')).join('\n');
    failed = !['something ran', 'image-alt', 'color-contrast', 'wider'].every((what) => wrong.includes(what));
    console.log(failed ? wrong : 'check_html.js: its checks can fail');
  } else {
    for (const file of process.argv.slice(2)) {
      for (const scheme of ['light', 'dark']) {
        const wrong = await look(browser, file, scheme);
        failed = failed || wrong.length > 0;
        console.log(`${path.basename(file)}, ${scheme}: ${wrong.length ? wrong.join('; ') : 'no violation'}`);
      }
    }
  }
  await browser.close();
  process.exit(failed ? 1 : 0);
})();
