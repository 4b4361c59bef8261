import { chromium } from 'playwright-core';
const [url, out, ...screens] = process.argv.slice(2);
const b = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox','--disable-gpu'] });
const lang = process.env.L || 'en-GB';
for (const [w,h] of (process.env.W? process.env.W.split(',').map(x=>x.split('x').map(Number)) : [[390,844],[1280,900]])) for (const scheme of (process.env.S||'light').split(',')) {
  const ctx = await b.newContext({ viewport:{width:w,height:h}, colorScheme: scheme, locale: lang });
  const p = await ctx.newPage();
  p.on('console', m => { if (['error','warning'].includes(m.type()) && !/willRead/.test(m.text())) console.log(m.text()); }); p.on('pageerror', e=>console.log('ERR', e.message, e.stack?.split('\n')[1]));
  for (const s of screens) {
    await p.goto(`${url}#/${s}`); await p.waitForTimeout(Number(process.env.T||1500));
    await p.screenshot({ path: `${out}/${s.replace('/','_')}-${w}-${scheme}.png`, fullPage: !process.env.V });
  }
  await ctx.close();
}
await b.close();
