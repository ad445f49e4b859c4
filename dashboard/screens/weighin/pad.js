// One athlete at a time. What is typed is kept in this browser until the server says that it is in its log; each entry
// has an id of its own, so that sending it twice saves it once. Nothing is asked of any other address.
const KEPT = 'latewood.waiting.v1';
const AGAIN = 3000;  // ms between two tries while anything waits
const rooms = new WeakMap();
let memory = [];  // where the browser keeps nothing

const read = () => {
  try { return JSON.parse(localStorage.getItem(KEPT) || '[]'); } catch { return memory; }
};
const write = list => {
  memory = list;
  try {
    if (list.length) localStorage.setItem(KEPT, JSON.stringify(list)); else localStorage.removeItem(KEPT);
    return true;
  } catch { return false; }
};
const newId = () => [...crypto.getRandomValues(new Uint8Array(12))].map(b => b.toString(16).padStart(2, '0')).join('');
const made = (tag, attributes = {}, ...inside) => {
  const e = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith('on')) e.addEventListener(key.slice(2), value);
    else if (value !== null && value !== false) e.setAttribute(key, value === true ? '' : value);
  }
  e.append(...inside);
  return e;
};
const mine = (room, athlete, trial) => read().filter(
  e => e.athlete === athlete && e.measure === room.data.measure && e.on === room.data.on
    && (e.absent || e.trial === trial) && same(e.conditions, room.data.conditions));
const same = (a, b) => JSON.stringify(Object.entries(a).sort()) === JSON.stringify(Object.entries(b).sort());
const counted = (n, one, many) => `${n} ${n === 1 ? one : many}`;

// A place in the line is one trial of one athlete.
const places = room => room.data.line.flatMap(
  one => Array.from({length: room.data.trials}, (_, at) => ({one, trial: at + 1})));
const isOver = (room, {one, trial}) => one.saved[trial] || one.absent || mine(room, one.id, trial).length > 0;
const next = (room, from) => {
  const all = places(room);
  for (let step = 1; step <= all.length; step += 1) {
    const at = (from + step) % all.length;
    if (!isOver(room, all[at]) && !room.skipped.has(all[at].one.id)) return at;
  }
  const again = all.findIndex(place => !isOver(room, place));  // those that were skipped come last
  if (again >= 0) room.skipped.clear();
  return again;
};

const send = room => {
  const list = read();
  if (!list.length) return;
  room.n += 1;
  room.component.setStateValue('waiting', {n: room.n, entries: list});
};
const keep = (room, entry) => {
  room.kept = write([...read(), entry]);
  send(room);
};
const drop = (room, id) => { write(read().filter(e => e.id !== id)); delete room.answers[id]; };
const leave = (room, to) => {
  room.before.push(room.at);
  room.at = to;
  room.reasons = false;
  room.error = '';
  draw(room, true);
};

const settle = room => {  // what the server says became of what was sent
  const list = read();
  for (const [id, answer] of Object.entries(room.data.answers)) {
    const entry = list.find(e => e.id === id);
    if (answer.kind === 'saved') { drop(room, id); continue; }
    if (entry && !(entry.answered || []).includes(answer.text)) room.answers[id] = answer;
  }
};

const save = room => {
  const place = places(room)[room.at];
  const text = room.field.value.trim().replace(',', '.');
  if (!/^\d+(\.\d+)?$/.test(text)) {
    room.error = text ? 'Not saved: this is no number.' : 'Type the number first, or skip.';
    draw(room, true);
    return;
  }
  for (const old of mine(room, place.one.id, place.trial)) drop(room, old.id);
  keep(room, {...fresh(room, place), value: Number(text).toFixed(room.data.decimals)});
  room.field.value = '';
  leave(room, next(room, room.at));
};
const fresh = (room, {one, trial}) => ({
  id: newId(), athlete: one.id, name: one.name, trial, measure: room.data.measure, unit: room.data.unit,
  conditions: room.data.conditions, on: room.data.on, by: room.data.who, value: '', absent: '', answered: [],
  instead_of: (one.saved[trial] || {}).id || '',
});
const cannot = (room, reason) => {
  const place = places(room)[room.at];
  keep(room, {...fresh(room, place), absent: reason});
  leave(room, next(room, room.at));
};
const skip = room => {
  room.skipped.add(places(room)[room.at].one.id);
  room.field.value = '';
  leave(room, next(room, room.at));
};
const back = room => {
  if (!room.before.length) return;
  room.at = room.before.pop();
  room.error = '';
  draw(room, true);
};
const yes = (room, id) => {
  write(read().map(e => (e.id === id ? {...e, answered: [...e.answered, room.answers[id].text]} : e)));
  delete room.answers[id];
  room.open = '';
  send(room);
  draw(room, true);
};
const retype = (room, id) => {
  const entry = read().find(e => e.id === id);
  drop(room, id);
  room.open = '';
  const at = places(room).findIndex(place => entry && place.one.id === entry.athlete && place.trial === entry.trial);
  if (at >= 0) leave(room, at); else draw(room, true);
};

const button = (text, press, style = '') => made('button', {type: 'button', class: style, onclick: press}, text);
const question = (room, id) => {
  const entry = read().find(e => e.id === id);
  if (!entry) return '';
  const answer = room.answers[id];
  const refused = answer.kind === 'refused';
  const words = `${entry.name}: ${refused ? 'not saved' : 'not saved yet, one question'}.`;
  if (room.open !== id) {
    return made('div', {class: 'ask', role: 'alert'}, words, button('Look', () => { room.open = id; draw(room, false); }));
  }
  return made('div', {class: 'ask', role: 'alert'}, `${words} ${answer.text}`, made('div', {class: 'row'},
    ...(refused ? [button('Try again', () => { delete room.answers[id]; send(room); draw(room, false); })]
      : [button('It is right, save it', () => yes(room, id))]),
    button('Drop it and type again', () => retype(room, id))));
};
const waitingText = (room, n) => {
  const where = room.kept ? 'They are kept in this browser, masses too, until they are in the log; then they are '
    + 'removed here. Do not clear its data.' : 'This browser keeps nothing: do not close or reload this page.';
  return n ? `${n} waiting to be sent. ${where}` : '';
};
const stateText = (room, {one, trial}) => {
  if (mine(room, one.id, trial).length) return 'typed, waiting to be sent';
  if (one.saved[trial]) return `saved at ${one.saved[trial].at}; a number typed now replaces it`;
  return one.absent || 'to come';
};
const head = room => {
  const asked = Object.keys(room.answers).filter(id => read().some(e => e.id === id));
  const waits = read().filter(e => !room.answers[e.id]).length;
  // what was sent a moment ago is on its way; only what stays is said
  const late = room.late ? waits : 0;
  return [made('p', {class: 'waiting', role: 'status'}, waitingText(room, late)), ...asked.map(id => question(room, id))];
};

const pad = room => {
  const all = places(room);
  const place = all[room.at];
  const {one, trial} = place;
  const after = all.filter((other, at) => at > room.at && !isOver(room, other) && other.one.id !== one.id)
    .map(other => other.one.name);
  const which = room.data.trials > 1 ? `, trial ${trial} of ${room.data.trials}` : '';
  room.field = made('input', {
    type: 'text', inputmode: 'decimal', autocomplete: 'off', 'aria-label': `${one.name}${which}, ${room.data.shown}`,
    placeholder: room.data.shown, enterkeyhint: 'next',
    onkeydown: event => { if (event.key === 'Enter') { event.preventDefault(); save(room); } },
  });
  return [
    made('p', {class: 'small'}, `${room.data.label}${which}. Next in line:`),
    made('p', {class: 'name'}, one.name),
    made('p', {class: 'small'}, stateText(room, place)),
    room.field,
    made('p', {class: 'wrong', role: 'alert'}, room.error),
    button('Save, next', () => save(room), 'main'),
    made('div', {class: 'row'},
      button('Skip', () => skip(room)),
      button('Cannot test today', () => { room.reasons = !room.reasons; draw(room, false); }),
      made('button', {type: 'button', disabled: !room.before.length, onclick: () => back(room)}, 'The one before')),
    ...(room.reasons ? [made('div', {class: 'row', role: 'group', 'aria-label': 'Why'},
      ...Object.entries(room.data.reasons).map(([key, words]) => button(words, () => cannot(room, key))))] : []),
    made('p', {class: 'small'}, after.length ? `Then ${[...new Set(after)].slice(0, 2).join(', ')}` : ''),
  ];
};
const over = room => {
  const n = room.data.line.length;
  return [made('p', {class: 'name'}, 'Nobody is to come'),
    made('p', {class: 'small'}, `${counted(n, 'athlete', 'athletes')} in this line. Values are changed in the list of all.`),
    made('div', {class: 'row'},
      made('button', {type: 'button', disabled: !room.before.length, onclick: () => back(room)}, 'The one before'))];
};

const draw = (room, focus) => {
  const typed = room.field ? room.field.value : '';
  const was = room.drawn;
  const inField = room.root.getRootNode().activeElement === room.field;
  if (room.data.quiet) {
    room.field = null;
    room.root.replaceChildren(...head(room));
    return;
  }
  if (!room.data.who) {
    room.field = null;
    room.root.replaceChildren(...head(room), made('p', {class: 'small'}, 'Write your name above first.'));
    return;
  }
  const known = room.at >= 0 && room.at < places(room).length;
  const parts = known ? pad(room) : over(room);
  room.drawn = known ? `${places(room)[room.at].one.id} ${places(room)[room.at].trial}` : '';
  room.root.replaceChildren(...head(room), ...parts);
  if (known && was === room.drawn) room.field.value = typed;
  if (known && (focus || inField)) room.field.focus({preventScroll: true});
};

// Streamlit puts a dialog over the page when its server is away; the page says it itself, and typing goes on.
const hush = room => {
  const app = document.querySelector('.stApp');
  if (!app || app.dataset.testConnectionState === 'CONNECTED') return;
  const close = document.querySelector('[role=dialog] button[aria-label=Close]');
  if (!close) return;
  close.click();
  if (room.field) room.field.focus({preventScroll: true});
};

const station = data => JSON.stringify([data.measure, data.unit, data.conditions, data.on, data.line.map(one => one.id)]);

export default function (component) {
  const root = component.parentElement.querySelector('.pad');
  let room = rooms.get(component.parentElement);
  const first = !room;
  if (first) {
    room = {root, n: 0, at: -1, before: [], skipped: new Set(), answers: {}, open: '', error: '', reasons: false,
      kept: true, late: false, drawn: '', field: null, station: ''};
    rooms.set(component.parentElement, room);
  }
  room.component = component;
  room.data = component.data;
  room.root = root;
  settle(room);
  const fresh = room.station !== station(room.data);
  if (fresh) {
    room.station = station(room.data);
    room.before = [];
    room.skipped.clear();
    room.at = next(room, -1);
  } else if (room.at < 0) {
    room.at = next(room, -1);
  }
  room.late = read().some(e => !room.answers[e.id] && !(e.id in room.data.answers)) && room.late;
  draw(room, fresh);
  if (first) send(room);
  clearInterval(room.timer);
  let seen = '';
  room.timer = setInterval(() => {
    const ids = read().filter(e => !room.answers[e.id]).map(e => e.id).join();
    const late = Boolean(ids);
    if (late && ids === seen || !late && room.late) { room.late = late; draw(room, false); }
    if (late) send(room);
    seen = ids;
  }, AGAIN);
  const watch = new MutationObserver(() => hush(room));
  watch.observe(document.body, {childList: true, subtree: true});
  return () => { clearInterval(room.timer); watch.disconnect(); };
}
