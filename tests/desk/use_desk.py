#!/usr/bin/env python3
"""Uses the desk in headless Chromium as a person would: intake, a look at each photo, a reload.

Arguments: the desk's address, a folder for the browser's profile, a folder for pictures of the page
(or ""), and the photos, the first of which departs. Prints what is wrong and ends with 1.
"""
import base64
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / 'support'))
from browser import Browser, Checks, comes_true

address, profile, pictures, *photos = sys.argv[1:]
check = Checks()
browser = Browser(profile)
try:
    script = browser.script

    def picture(name):
        if pictures:
            shot = base64.b64decode(browser.get('/screenshot'))
            (pathlib.Path(pictures) / f'{name}.png').write_bytes(shot)

    def rows(css):
        return script(f"return [...document.querySelectorAll('#photos tbody tr')].map({css})")

    def findings():
        return rows("(r) => r.cells[4].textContent.trim()")

    browser.open(address)
    check('the page opens by the printed address', comes_true(
        lambda: script("return document.querySelectorAll('#set option').length") == 2))
    check('the secret leaves the address', 'token' not in browser.get('/url'))
    check('labels of fields', script(
        "return [...document.querySelectorAll('input, select')].every((f) => f.labels.length)"))
    browser.keys('#set', 'orbenna')
    browser.keys('#item', 'bag <b>7</b>')
    began = time.monotonic()
    browser.keys('#files', '\n'.join(photos))
    check('the first finding is on the screen', comes_true(lambda: any(
        f and 'Waits' not in f for f in findings()), 60))
    first = time.monotonic() - began
    check('all come in', comes_true(lambda: len(findings()) == len(photos), 60))
    script("location.reload()")
    check('a reload loses nothing', comes_true(lambda: len(findings()) == len(photos), 60))
    check('all are compared', comes_true(lambda: not any('Waits' in f for f in findings()), 120))
    check('one departs', sum('Departs' in f for f in findings()) == 1)
    check('others do not', sum('No departure found' in f for f in findings()) == len(photos) - 1)
    check('labels are escaped', script("return document.querySelector('#photos b') === null")
          and all(i == 'bag <b>7</b>' for i in rows("(r) => r.cells[2].textContent")))
    check('thumbnails load', comes_true(lambda: script(
        "const i = document.querySelector('#photos img'); return i.complete && i.naturalWidth > 0")))
    check('names of pictures', script(
        "return [...document.images].every((i) => i.alt.length > 0)"))
    check('the count', f'{len(photos)} photos, 1 depart, 0 wait' in script(
        "return document.getElementById('count').textContent"))
    picture('intake')

    # The first photo beside a verified item, and on by key.
    script("document.querySelector('#photos tbody button').focus()")
    browser.keys('#photos tbody button', '\ue007')
    check('the detail opens by key', script("return document.getElementById('detail').open"))
    check('its picture loads', comes_true(lambda: script(
        "return document.getElementById('detail-picture').naturalWidth > 200")))
    picture('side-by-side')
    title = script("return document.getElementById('detail-title').textContent")
    browser.keys('#next', '\ue014')
    check('the next by key', script("return document.getElementById('detail-title').textContent")
          != title)
    browser.keys('#close', '\ue00c')
    check('Escape closes it', comes_true(
        lambda: script("return !document.getElementById('detail').open")))

    # The report opens; nothing but the desk was asked for anything.
    status = browser.post('/execute/async', {'args': [], 'script':
        "const done = arguments[0]; fetch(document.querySelector('#photos a').href)"
        ".then((r) => done(r.headers.get('Content-Type')))"})
    check('the report is there', status == 'application/pdf')
    check('nothing comes from elsewhere', script(
        "return performance.getEntriesByType('resource').every((e) => "
        "e.name.startsWith(location.origin))"))

    browser.post('/window/rect', {'width': 800, 'height': 900})
    check('no sideways scrolling at 800 px', script(
        "return document.documentElement.scrollWidth <= window.innerWidth"))
    picture('narrow')
    errors = browser.errors()
    check(f'errors: {errors}', not errors)
    print(f'first finding after {first:.2f} s')
finally:
    browser.close()

check.end()
