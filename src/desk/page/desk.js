// The script of the desk: sends photos in, and shows what the program says of them.
//
// It computes no finding and writes no markup: all text goes in as text.
const id = (name) => document.getElementById(name);
const body = id('photos').tBodies[0];
const signs = {'departs': ['Departs', '≠'], 'no-departure-found': ['No departure found', '='],
  'cannot-tell': ['Cannot tell', '?'], 'refused': ['Refused', '×'], 'failed': ['Failed', '!'],
  'waiting': ['Waits', '…']};
const kAtOnce = 3;  // photos sent at the same time

const make = (name, text = '', klass = '') => {
  const element = document.createElement(name);
  if (text) element.textContent = text;
  if (klass) element.className = klass;
  return element;
};
const link = (href, text, label) => {
  const a = make('a', text);
  a.href = href;
  a.target = '_blank';
  a.setAttribute('aria-label', label);
  return a;
};
const badge = (kind) => {
  const [words, sign] = signs[kind];
  const span = make('span', '', 'finding ' + kind);
  const mark = make('span', sign, 'sign');
  mark.setAttribute('aria-hidden', 'true');
  span.append(mark, ' ', words);
  return span;
};
const kindOf = (photo) => photo.finding || photo.outcome;
const why = (photo) => [photo.summary, photo.advice && 'Advice: ' + photo.advice, photo.message,
  photo.hint && 'Mend: ' + photo.hint].filter(Boolean).join(' ');

// One row a photo; a row is made again only where what it shows changed.
const shown = new Map();
let photos = [];
const fill = (row, photo) => {
  row.replaceChildren();
  const cell = (klass = '') => row.appendChild(make('td', '', klass));
  const picture = cell('picture');
  if (photo.thumbnail) {
    const image = make('img');
    image.src = photo.thumbnail;
    image.alt = 'Lettering of ' + photo.name;
    image.loading = 'lazy';
    picture.append(image);
  }
  if (photo.pair) {
    const button = make('button', 'Side by side');
    button.type = 'button';
    button.setAttribute('aria-label', photo.name + ' beside a verified item');
    button.addEventListener('click', () => look(photo.id));
    picture.append(button);
  }
  cell().textContent = photo.name;
  cell().textContent = photo.item;
  cell().textContent = photo.set;
  cell().append(badge(kindOf(photo)));
  cell('why').textContent = why(photo);
  const files = cell();
  if (photo.pdf) files.append(link(photo.pdf, 'Report', 'Report of ' + photo.name), ' ');
  if (photo.json) files.append(link(photo.json, 'JSON', 'JSON result of ' + photo.name));
};
const show = (state) => {
  photos = state.photos;
  for (const photo of photos) {
    const text = JSON.stringify(photo);
    const known = shown.get(photo.id);
    if (known && known.text === text) continue;
    const row = known ? known.row : body.appendChild(make('tr'));
    fill(row, photo);
    shown.set(photo.id, {row, text});
  }
  const waiting = photos.filter((p) => p.outcome === 'waiting').length;
  const departing = photos.filter((p) => p.finding === 'departs').length;
  id('count').textContent = photos.length === 0 ? 'No photos yet.'
    : photos.length + (photos.length === 1 ? ' photo, ' : ' photos, ') + departing + ' depart, ' +
      waiting + (waiting === 1 ? ' waits' : ' wait');
  id('trouble').textContent = state.trouble;
  id('pause').hidden = waiting === 0 && !state.paused;
  id('pause').textContent = state.paused || state.trouble ? 'Go on' : 'Stop after the photos in work';
  id('pause').dataset.next = state.paused || state.trouble ? 'resume' : 'pause';
};

const ask = async (path, options = {}) => {
  const answer = await fetch('/api/v1/' + path, options);
  const json = await answer.json();
  if (!answer.ok) throw new Error(json.message + ': ' + json.hint);
  return json;
};
let asking = false, again = false;
const refresh = async () => {
  if (asking) {
    again = true;
    return;
  }
  asking = true;
  try {
    do {
      again = false;
      show(await ask('photos'));
    } while (again);
  } catch (error) {
    id('trouble').textContent = 'The desk does not answer (' + error.message + '). Is it running?';
  }
  asking = false;
};

// Intake: what was chosen is sent a few at a time; the program keeps it from there.
let queue = [], sent = 0, total = 0, sending = 0;
const tell = () => {
  id('sending').textContent = total === 0 ? '' : sent === total
    ? total + (total === 1 ? ' photo was' : ' photos were') + ' handed over.'
    : 'Handing over photo ' + (sent + 1) + ' of ' + total + '…';
};
const send = async () => {
  if (sending >= kAtOnce || queue.length === 0) return;
  const {file, set, item} = queue.shift();
  ++sending;
  try {
    await ask('photos?' + new URLSearchParams({name: file.name, set, item}),
      {method: 'POST', body: file, headers: {'Content-Type': 'application/octet-stream'}});
  } catch (error) {
    id('faults').append(make('li', file.name + ' ' + error.message));
  }
  ++sent;
  --sending;
  tell();
  send();
};
const take = (files) => {
  if (sent === total) sent = total = 0;
  for (const file of files) queue.push({file, set: id('set').value, item: id('item').value});
  total += files.length;
  tell();
  for (let i = 0; i < kAtOnce; ++i) send();
};
id('files').addEventListener('change', () => {
  take([...id('files').files]);
  id('files').value = '';
});
addEventListener('dragover', (event) => {
  event.preventDefault();
  document.body.classList.add('dropping');
});
addEventListener('dragleave', (event) => {
  if (!event.relatedTarget) document.body.classList.remove('dropping');
});
addEventListener('drop', (event) => {
  event.preventDefault();
  document.body.classList.remove('dropping');
  take([...event.dataTransfer.files]);
});
// What is not handed over yet would be lost.
addEventListener('beforeunload', (event) => {
  if (sent < total) event.preventDefault();
});
id('pause').addEventListener('click', () => ask(id('pause').dataset.next, {method: 'POST'})
  .catch((error) => { id('trouble').textContent = error.message; }));

// One photo beside a verified item, then the next.
const detail = id('detail');
let at = '';
const withPair = () => photos.filter((photo) => photo.pair);
const look = (photo_id) => {
  const all = withPair();
  const place = all.findIndex((photo) => photo.id === photo_id);
  const photo = all[place];
  at = photo_id;
  id('detail-title').textContent = photo.name;
  id('detail-finding').replaceChildren(badge(kindOf(photo)));
  id('detail-why').textContent = why(photo);
  id('detail-picture').src = photo.pair;
  id('detail-picture').alt = 'Lettering of ' + photo.name + ' above that of a verified item';
  id('previous').disabled = place <= 0;
  id('next').disabled = place + 1 >= all.length;
  id('place').textContent = (place + 1) + ' of ' + all.length;
  if (!detail.open) detail.showModal();
};
const step = (by) => {
  const all = withPair();
  const next = all[all.findIndex((photo) => photo.id === at) + by];
  if (next) look(next.id);
};
id('previous').addEventListener('click', () => step(-1));
id('next').addEventListener('click', () => step(1));
id('close').addEventListener('click', () => detail.close());
detail.addEventListener('keydown', (event) => {
  if (event.key === 'ArrowLeft') step(-1);
  if (event.key === 'ArrowRight') step(1);
});
detail.addEventListener('close', () => shown.get(at)?.row.querySelector('button')?.focus());

const begin = async () => {
  try {
    for (const set of (await ask('sets')).sets) {
      if (set.trouble) continue;
      const option = make('option', [set.id, set.maker, set.period].filter(Boolean).join(', '));
      option.value = set.id;
      id('set').append(option);
    }
  } catch (error) {
    id('trouble').textContent = error.message;
  }
  await refresh();
  new EventSource('/api/v1/events').addEventListener('photos', refresh);
};
begin();
