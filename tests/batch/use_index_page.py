#!/usr/bin/env python3
"""Uses the overview page in headless Chromium by the WebDriver protocol (W3C) and checks it.

Arguments: the page, and a folder for the browser's profile. Prints what is wrong and ends with 1.
"""
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / 'support'))
from browser import Browser, Checks, comes_true

page, profile = pathlib.Path(sys.argv[1]).resolve(), sys.argv[2]
check = Checks()
browser = Browser(profile)
try:
    call, session, find = browser.call, browser.session, browser.find
    script, click, keys = browser.script, browser.click, browser.keys

    def shown():
        return script("return [...document.querySelectorAll('#photos tbody tr')]"
                      ".filter((r) => r.offsetParent !== null).length")

    def count():
        return script("return document.getElementById('count').textContent")

    def column(css):
        return script(f"return [...document.querySelectorAll('#photos tbody tr')].map({css})")

    call('POST', session + '/url', {'url': page.as_uri()})
    check('1,000 rows', shown() == 1000 and count() == '1000 photos')
    check('the file named like a script ran', script('return document.title') != 'run')
    check('its name is text', script(
        "return document.body.textContent.includes(\"<script>document.title='run'\")"))
    check('labels are escaped', script("return document.querySelector('td b') === null"))
    check('thumbnails load', script(
        "const i = document.querySelector('td img'); return i.complete && i.naturalWidth === 36"))
    check('nothing comes from elsewhere', script(
        "return performance.getEntriesByType('resource').every((e) => e.name.startsWith('file:'))"))
    check('an injected script is stopped', script(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1';"
        "document.body.append(s); return window.ran === undefined"))
    # For keyboard and screen reader.
    check('live region', script("return document.getElementById('count').getAttribute('role')")
          == 'status')
    check('labels of fields', script(
        "return [...document.querySelectorAll('input, select')].every((f) => f.labels.length)"))
    check('names of pictures', script(
        "return [...document.images].every((i) => i.alt.length > 0)"))
    check('table is a table', call('GET', session + find('#photos') + '/computedrole') == 'table')
    check('heads are heads',
          call('GET', session + find('#photos th') + '/computedrole') == 'columnheader')

    # Sorting: by click, then by keyboard.
    head = "#photos th[data-sort='largest']"
    began = time.monotonic()
    click(head + ' button')
    largest = column("(r) => r.dataset.largest")
    taken = time.monotonic() - began
    check(f'sorting hangs for {taken:.1f} s', taken < 20)
    numbers = [float(n) for n in largest if n]
    check('largest first', len(numbers) == 200 and numbers == sorted(numbers, reverse=True)
          and largest[200:] == [''] * 800)
    check('aria-sort', script(f'return document.querySelector("{head}").ariaSort') == 'descending')
    script(f'document.querySelector("{head} button").focus()')
    keys(head + ' button', '\ue007')
    largest = column("(r) => r.dataset.largest")
    check('smallest first by the Enter key', [float(n) for n in largest if n] == sorted(numbers)
          and largest[200:] == [''] * 800)
    click("#photos th[data-sort='text'] button")
    names = [n for n in column("(r) => r.cells[1].querySelector('a, td')?.textContent")
             if n and n.startswith('photo')]
    check('by name', len(names) > 700 and names == sorted(names))
    check('one column is sorted', script(
        "return document.querySelectorAll('th[aria-sort]:not([aria-sort=none])').length") == 1)
    click("#photos th[data-sort='finding'] button")
    findings = column("(r) => r.dataset.finding")
    check('departures first', findings[:200] == ['departs'] * 200)

    # Filters.
    keys('#by-finding', 'Departs')
    check('200 depart', shown() == 200 and count() == 'Showing 200 of 1000 photos')
    keys('#by-set', 'orbenna')
    check('100 of one set', shown() == 100)
    keys('#by-largest', '10')
    wanted = sum(1 for i in range(0, 1000, 10) if 0.5 + (i * 37 % 1000) / 50 >= 10)
    check('at least 10 %', shown() == wanted)
    click('button[type=reset]')
    check('all again', comes_true(lambda: shown() == 1000))
    keys('#by-text', 'needle')
    check('by note', shown() == 1)
    script("document.getElementById('by-text').value = ''")
    keys('#by-text', 'no such thing')
    check('none fits', shown() == 0 and script("return !document.getElementById('none').hidden"))
    click('button[type=reset]')
    check('all once more', comes_true(lambda: shown() == 1000))
    click('#by-new')
    check('new ones', shown() == 20)
    click('button[type=reset]')
    check('all after the new ones', comes_true(lambda: shown() == 1000))
    script("document.querySelector('details').open = true;"
           "[...document.querySelectorAll('a.item')].find((a) => a.textContent == 'bag 3').click()")
    check('an item alone', comes_true(lambda: shown() == 4)
          and count() == 'Showing 4 of 1000 photos, of bag 3')
    click('button[type=reset]')
    check('all after the item', comes_true(lambda: shown() == 1000))

    # One photo beside a verified item.
    keys('#by-finding', 'Departs')
    first = "#photos tbody tr:not([hidden]) a.pair"
    names = script("return [...document.querySelectorAll('#photos tbody tr:not([hidden])')]"
                   ".map((r) => r.cells[1].querySelector('a').textContent)")
    script(f"document.querySelector('{first}').focus()")
    keys(first, '\ue007')
    title = "return document.getElementById('detail-title').textContent"
    check('the detail opens by key', script("return document.getElementById('detail').open")
          and script(title) == names[0])
    check('its picture loads', comes_true(lambda: script(
        "const i = document.getElementById('detail-picture'); return i.naturalWidth === 36")))
    check('its picture has a name', script(
        "return document.getElementById('detail-picture').alt").startswith('Lettering of'))
    check('the first has none before it', script(
        "return document.getElementById('detail-previous').disabled"))
    keys('#detail-next', '\ue014')
    check('the next by key', script(title) == names[1])
    click('#detail-next')
    check('the next by click', script(title) == names[2]
          and script("return document.getElementById('detail-place').textContent") == '3 of 200')
    check('findings and words are there', 'Departs' in script(
        "return document.getElementById('detail-finding').textContent"))
    keys('#detail-close', '\ue00c')
    check('Escape closes it', comes_true(lambda: script(
        "return !document.getElementById('detail').open")))
    check('the focus is where one looked last', comes_true(lambda: script(
        "return document.activeElement.closest('tr').cells[1].querySelector('a').textContent")
        == names[2]))
    click('button[type=reset]')
    check('all after the detail', comes_true(lambda: shown() == 1000))

    # Opening a result.
    target = script("return document.querySelector(\"tr[data-finding='cannot-tell'] a\").href")
    click("tr[data-finding='cannot-tell'] td.name a")
    comes_true(lambda: call('GET', session + '/url') == target)
    check('the result opens', call('GET', session + '/url') == target and '{"photo":' in
          script('return document.body.textContent'))
    call('POST', session + '/back', {})

    # A narrow window shows everything without scrolling sideways, and is a table still.
    call('POST', session + '/window/rect', {'width': 500, 'height': 900})
    script("document.documentElement.style.width = '390px'")
    check('no sideways scrolling', script(
        "return document.documentElement.scrollWidth <= window.innerWidth"))
    check('narrow table is a table',
          call('GET', session + find('#photos') + '/computedrole') == 'table')
    check('narrow row is a row',
          call('GET', session + find('#photos tbody tr') + '/computedrole') == 'row')

    # The script that the check above injected is reported; nothing else may be.
    errors = browser.errors()
    check(f'errors: {errors}', all('inline script' in e for e in errors) and len(errors) <= 1)
finally:
    browser.close()

check.end()
