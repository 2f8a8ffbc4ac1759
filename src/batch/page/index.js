// The script of `index.html`: sorting and filtering of the rows that are there.
//
// It writes no markup; without it the table stands in the plan's order.
(() => {
  'use strict';
  const id = (name) => document.getElementById(name);
  const table = id('photos');
  const body = table.tBodies[0];
  const rows = [...body.rows];
  const words = new Intl.Collator('en', {numeric: true, sensitivity: 'base'});
  const order = ['departs', 'cannot-tell', 'no-departure-found', 'refused', 'failed', 'not-done'];
  const place = new Map(rows.map((row, i) => [row, i]));
  const text = new Map(rows.map((row) => [row,
    (row.cells[1].textContent + '\n' + row.cells[2].textContent).toLowerCase()]));

  const keyOf = (row, kind, column) => {
    if (kind === 'largest') return row.dataset.largest === '' ? null : Number(row.dataset.largest);
    if (kind === 'finding') return order.indexOf(row.dataset.finding);
    const value = row.cells[column].textContent.trim();
    return value === '' ? null : value;
  };
  // Rows without a value come last either way; equal ones keep the order of the batch.
  const sortBy = (kind, column, sign) => {
    const keys = new Map(rows.map((row) => [row, keyOf(row, kind, column)]));
    const sorted = [...rows].sort((a, b) => {
      const x = keys.get(a), y = keys.get(b);
      let way = 0;
      if (x === null || y === null) way = (x === null) - (y === null);
      else way = sign * (typeof x === 'number' ? x - y : words.compare(x, y));
      return way || place.get(a) - place.get(b);
    });
    body.append(...sorted);
  };

  const heads = [...table.tHead.rows[0].cells];
  heads.forEach((head, column) => {
    const kind = head.dataset.sort;
    if (!kind) return;
    const button = document.createElement('button');
    button.type = 'button';
    button.textContent = head.textContent;
    head.replaceChildren(button);
    head.setAttribute('aria-sort', 'none');
    button.addEventListener('click', () => {
      const first = kind === 'largest' ? 'descending' : 'ascending';
      const other = kind === 'largest' ? 'ascending' : 'descending';
      const now = head.getAttribute('aria-sort') === first ? other : first;
      for (const each of heads) if (each.dataset.sort) each.setAttribute('aria-sort', 'none');
      head.setAttribute('aria-sort', now);
      sortBy(kind, column, now === 'ascending' ? 1 : -1);
    });
  });

  const form = id('filters');
  const onlyNew = id('by-new');
  let item = '';  // shown alone, chosen in the table of items
  const filter = () => {
    const finding = id('by-finding').value;
    const set = id('by-set').value;
    const least = parseFloat(id('by-largest').value);
    const part = id('by-text').value.trim().toLowerCase();
    let shown = 0;
    for (const row of rows) {
      const fits = (!finding || row.dataset.finding === finding) &&
        (!set || row.dataset.set === set) &&
        (!(least > 0) || (row.dataset.largest !== '' && Number(row.dataset.largest) >= least)) &&
        (!item || row.cells[2].textContent === item) &&
        (!onlyNew || !onlyNew.checked || row.dataset.new !== undefined) &&
        (!part || text.get(row).includes(part));
      row.hidden = !fits;
      shown += fits;
    }
    id('none').hidden = shown > 0;
    id('count').textContent = shown === rows.length
      ? rows.length + (rows.length === 1 ? ' photo' : ' photos')
      : 'Showing ' + shown + ' of ' + rows.length + ' photos' + (item ? ', of ' + item : '');
  };
  // A choice that no photo has is not offered.
  for (const option of [...id('by-finding').options]) {
    if (option.value && !rows.some((row) => row.dataset.finding === option.value)) option.remove();
  }
  form.addEventListener('input', filter);
  form.addEventListener('reset', () => {
    item = '';
    setTimeout(filter);
  });
  for (const link of document.querySelectorAll('a.item')) {
    link.addEventListener('click', () => {
      item = link.textContent;
      filter();
    });
  }
  form.addEventListener('submit', (event) => event.preventDefault());
  form.hidden = false;
  filter();

  // One photo beside a verified item, then the next of those shown.
  const detail = id('detail');
  let at = null;
  const withPair = () => [...body.rows].filter((row) => !row.hidden && row.querySelector('.pair'));
  const copy = (to, from) => to.replaceChildren(...[...from.childNodes].map((n) => n.cloneNode(true)));
  const show = (row) => {
    at = row;
    const all = withPair();
    const place = all.indexOf(row);
    const name = row.cells[1].querySelector('a').textContent;
    id('detail-title').textContent = name;
    copy(id('detail-finding'), row.cells[4]);
    copy(id('detail-why'), row.cells[6]);
    copy(id('detail-files'), row.cells[7]);
    const picture = id('detail-picture');
    picture.src = row.querySelector('.pair').getAttribute('href');
    picture.alt = 'Lettering of ' + name + ' above that of a verified item';
    id('detail-previous').disabled = place <= 0;
    id('detail-next').disabled = place + 1 >= all.length;
    id('detail-place').textContent = (place + 1) + ' of ' + all.length;
  };
  const step = (by) => {
    const all = withPair();
    const next = all[all.indexOf(at) + by];
    if (next) show(next);
  };
  body.addEventListener('click', (event) => {
    const link = event.target.closest('a.pair');
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    show(link.closest('tr'));
    detail.showModal();
  });
  id('detail-previous').addEventListener('click', () => step(-1));
  id('detail-next').addEventListener('click', () => step(1));
  id('detail-close').addEventListener('click', () => detail.close());
  detail.addEventListener('keydown', (event) => {
    if (event.key === 'ArrowLeft') step(-1);
    if (event.key === 'ArrowRight') step(1);
  });
  // The focus comes back to the photo that was looked at last.
  detail.addEventListener('close', () => at && at.querySelector('.pair').focus());
})();
