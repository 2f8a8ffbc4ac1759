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
        (!part || text.get(row).includes(part));
      row.hidden = !fits;
      shown += fits;
    }
    id('none').hidden = shown > 0;
    id('count').textContent = shown === rows.length
      ? rows.length + (rows.length === 1 ? ' photo' : ' photos')
      : 'Showing ' + shown + ' of ' + rows.length + ' photos';
  };
  // A choice that no photo has is not offered.
  for (const option of [...id('by-finding').options]) {
    if (option.value && !rows.some((row) => row.dataset.finding === option.value)) option.remove();
  }
  form.addEventListener('input', filter);
  form.addEventListener('reset', () => setTimeout(filter));
  form.addEventListener('submit', (event) => event.preventDefault());
  form.hidden = false;
  filter();
})();
