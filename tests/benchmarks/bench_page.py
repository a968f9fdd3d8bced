"""How quick the page of a report is: frames a second while the tank is tilted, and the worst state by itself.

    PYTHONPATH=.:cli:tests python tests/benchmarks/bench_page.py [report.html]

Software rendering in a headless Chromium; without an argument the page of the demo is made with coarse limits.
Told too: frames a second of processor time, all of the browser's processes together, since other work on the
machine takes away from the first figure and not from this; and what a frame's time goes to.
"""

import os
import sys
import tempfile
from pathlib import Path

from browser import Browser
from present.test_report_page import CASES, page_of

FRAMES = """new Promise(done => {
  const times = [], path = k => Words.upOf(25 * Math.sin(k / 9), 20 * Math.cos(k / 7));
  let k = 0, spent = 0;
  const next = now => {
    times.push(now);
    if (++k > 120) { done([120000 / (times[times.length - 1] - times[0]), spent / 120]); return; }
    const start = performance.now();
    Page.bench.up = path(k);
    Page.refresh();
    spent += performance.now() - start;
    requestAnimationFrame(next);
  };
  requestAnimationFrame(next);
})"""
ALONE = """(() => {
  const { tank, ports, fill } = Page.bench, pick = [ports.find(p => p.rule === 'wet')], took = [], one = [];
  for (let k = 0; k < 200; k++) {
    const up = Words.upOf(25 * Math.sin(k / 9), 20 * Math.cos(k / 7)), start = performance.now();
    Engine.judge(tank, ports, up, fill, 'all');
    const middle = performance.now();
    Engine.judge(tank, pick, up, fill, 'all');
    if (k >= 40) { took.push(middle - start); one.push(performance.now() - middle); }
  }
  const of = list => {
    list.sort((a, b) => a - b);
    return [list[list.length >> 1], list[Math.floor(0.95 * list.length)]];
  };
  return { faces: tank.faceCount, all: of(took), one: of(one) };
})()"""


def main() -> None:
    """Print all of it."""
    with tempfile.TemporaryDirectory() as folder, Browser() as browser:
        path = Path(folder) / "report.html"
        if len(sys.argv) > 1:
            path = Path(sys.argv[1])
        else:
            path.write_text(page_of(CASES["demo"]()), encoding="utf-8")
        browser.open(path)
        browser.value("new Promise(done => setTimeout(done, 1000))")
        browser.value(FRAMES)
        before = browser.processor_seconds()
        rate, script = browser.value(FRAMES)
        spent = browser.processor_seconds() - before
        load, cores = os.getloadavg()[0], os.cpu_count()
        print(f"load of the machine {load:.1f}, {cores} processors")
        print(f"frames a second while tilting: {rate:.0f} (no more than 60 are drawn)")
        print(
            f"frames a second of processor time: {120 / spent:.0f} ({1000 * spent / 120:.1f} ms each)"
        )
        print(f"of it in the page's own programs: {script:.1f} ms")
        found = browser.value(ALONE)
        for what, key in (("all ports", "all"), ("one wet port", "one")):
            middle, most = found[key]
            print(f"{found['faces']} faces, {what}: {middle:.1f} ms, 19 of 20 within {most:.1f} ms")


if __name__ == "__main__":
    main()
