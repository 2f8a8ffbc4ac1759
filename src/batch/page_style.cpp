// The style of `index.html`: light, dark, narrow and printed.
//
// Colours are Okabe and Ito's (report/palette.h), told apart by signs and words too.
#include "batch/overview.h"

namespace debossier::batch {

std::string_view PageStyle() {
  return R"css(
:root { --ink: #1c1e22; --quiet: #5c6066; --ground: #fff; --panel: #f4f4f1; --rule: #c8cbcf;
  --link: #005a8c; --departs: #d55e00; --none: #0072b2; --grey: #5c6066; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e8e8e6; --quiet: #a9adb3; --ground: #17191c; --panel: #23262a; --rule: #454a50;
    --link: #7fc4ee; --departs: #d55e00; --none: #0072b2; --grey: #6d7278; }
}
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem 1.5rem; max-width: 100rem; color: var(--ink);
  background: var(--ground); font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.5rem; margin: 0 0 .5rem; }
h2 { font-size: 1.15rem; margin: 1.5rem 0 .5rem; }
a { color: var(--link); }
a:focus-visible, button:focus-visible, input:focus-visible, select:focus-visible,
summary:focus-visible { outline: 3px solid var(--none); outline-offset: 2px; }
.quiet { color: var(--quiet); font-size: .875rem; }
.caution { background: var(--panel); padding: .5rem .75rem; border-left: 4px solid var(--ink); }
.counts { list-style: none; display: flex; flex-wrap: wrap; gap: .25rem 1.5rem; padding: 0; }
.counts li { display: flex; gap: .4rem; align-items: baseline; }
.counts b { font-size: 1.25rem; font-variant-numeric: tabular-nums; }
.no-items :is(th, td):nth-child(3) { display: none; }
.finding { display: inline-flex; align-items: flex-start; gap: .35em; }
.sign { display: inline-flex; align-items: center; justify-content: center; flex: none;
  width: 1.5em; height: 1.5em; border-radius: 50%; color: #fff; background: var(--grey);
  font-weight: bold; line-height: 1; }
.departs { font-weight: bold; }
.departs .sign { background: var(--departs); }
.no-departure-found .sign { background: var(--none); }
.refused .sign, .failed .sign, .not-done .sign, .not-compared .sign { color: var(--ink);
  background: none; border: 2px dashed var(--quiet); border-radius: 4px; }
form { display: flex; flex-wrap: wrap; gap: .75rem 1.25rem; align-items: end; background: var(--panel);
  padding: .75rem; }
form[hidden] { display: none; }
label { display: flex; flex-direction: column; gap: .2rem; font-size: .875rem; }
input, select, button { font: inherit; color: inherit; background: var(--ground);
  border: 1px solid var(--quiet); border-radius: 4px; padding: .3rem .5rem; min-height: 2.25rem; }
#by-largest { width: 6em; }
#count { font-weight: bold; margin: .75rem 0 .25rem; }
.legend { color: var(--quiet); font-size: .875rem; margin: .25rem 0 .75rem; }
.legend span { display: inline-block; width: 2.5em; vertical-align: middle; }
.dashed { border-top: 2px dashed var(--none); }
.solid { border-top: 3px solid var(--departs); margin-left: 1.5em; }
table { border-collapse: collapse; width: 100%; }
thead { background: var(--panel); }
th, td { text-align: left; vertical-align: top; padding: .5rem; border-bottom: 1px solid var(--rule); }
th { vertical-align: bottom; }
th button { border: 0; min-height: 0; background: none; font-weight: bold; padding: 0; text-align: left;
  cursor: pointer; }
th button::after { content: " \2195"; color: var(--quiet); }
th[aria-sort=ascending] button::after { content: " \2191"; color: var(--ink); }
th[aria-sort=descending] button::after { content: " \2193"; color: var(--ink); }
.name { overflow-wrap: anywhere; min-width: 8rem; max-width: 20rem; }
.number { font-variant-numeric: tabular-nums; white-space: nowrap; }
.number .quiet { white-space: normal; }
.picture { width: 14rem; }
.picture img { display: block; width: 13rem; height: auto; min-height: 2rem; }
.why { min-width: 14rem; max-width: 34rem; overflow-wrap: anywhere; font-size: .9375rem; }
#photos thead th { position: sticky; top: 0; background: var(--panel); z-index: 1; }
footer { margin-top: 2rem; color: var(--quiet); font-size: .875rem; }
@media (max-width: 60rem) {
  body { padding: .75rem; }
  table, tbody, tr { display: block; }
  thead tr { display: flex; flex-wrap: wrap; gap: .25rem 1rem; padding: .25rem .5rem; }
  thead th { border: 0; padding: .25rem 0; }
  thead th:not([data-sort]) { position: absolute !important; width: 1px; height: 1px;
    overflow: hidden; clip-path: inset(50%); white-space: nowrap; }
  #photos thead th { position: static; }
  tbody tr { border: 1px solid var(--rule); border-radius: 6px; margin: .75rem 0; padding: .5rem; }
  tr[hidden] { display: none; }
  tbody td { display: grid; grid-template-columns: 7rem 1fr; gap: .5rem; border: 0;
    padding: .25rem 0; max-width: none; min-width: 0; }
  tbody td::before { content: attr(data-label); color: var(--quiet); font-size: .875rem; }
  tbody td > br { display: none; }
  td.picture { display: block; width: auto; }
  td.picture::before { content: none; }
  td.picture img { width: 100%; max-width: 24rem; }
  td.why, td.name, td.number { display: block; }
  td.why::before, td.name::before, td.number::before { display: inline-block; width: 7.5rem; }
  td.number > br { display: inline; }
  td.name:empty { display: none; }
}
@media print {
  :root { --ink: #000; --ground: #fff; --panel: #fff; --quiet: #333; --link: #000; --rule: #999; }
  form, th button::after { display: none !important; }
  #photos thead th { position: static; }
  body { font-size: 9pt; max-width: none; padding: 0; }
  .picture, .picture img { width: 8rem; }
  tr { break-inside: avoid; }
  thead { display: table-header-group; }
  .sign { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
  .name, .why { min-width: 0; }
}
)css";
}

}  // namespace debossier::batch
