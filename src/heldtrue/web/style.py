"""The look: ink on paper.  Sizes in px at 96 px an inch; 48 px are 12.7 mm, so that a glove finds its button."""

from __future__ import annotations

INK, PAPER, SHEET, RULE, BLUE = "#1d1b18", "#f4f1e8", "#fffdf7", "#a79f8d", "#1c3f66"
GOOD, BAD, OPEN = "#1c5a2e", "#8f1d14", "#6f4400"

CSS = f"""
:root {{ --ink: {INK}; --paper: {PAPER}; --sheet: {SHEET}; --rule: {RULE}; --blue: {BLUE};
  --good: {GOOD}; --bad: {BAD}; --open: {OPEN}; --q-primary: {BLUE}; }}
html {{ color-scheme: light; }}
body, body.body--light {{ background: var(--paper); color: var(--ink); font: 17px/1.42 "DejaVu Sans", "Segoe UI",
  "Noto Sans", Arial, sans-serif; }}
.nicegui-content {{ padding: 0; gap: 0; max-width: 1680px; margin: 0 auto; min-height: 100vh; }}
.q-layout, .q-page, .q-page-container {{ min-height: 0 !important; }}
a {{ color: var(--blue); }}
h1 {{ font-size: 25px; line-height: 1.2; font-weight: 700; margin: 0; }}
h2 {{ font-size: 19px; line-height: 1.3; font-weight: 700; margin: 20px 0 8px; padding-bottom: 3px;
  border-bottom: 2px solid var(--ink); }}
h3 {{ font-size: 17px; font-weight: 700; margin: 12px 0 4px; line-height: 1.3; }}
p {{ margin: 4px 0; }}
:focus-visible, .q-focusable:focus-visible, .q-field--focused .q-field__control {{ outline: 3px solid {BLUE} !important;
  outline-offset: 2px; }}
.skip {{ position: absolute; left: -999px; }} .skip:focus {{ left: 8px; top: 8px; background: var(--sheet);
  padding: 12px; z-index: 99; }}
.top {{ width: 100%; display: flex; flex-wrap: wrap; align-items: center; gap: 4px 24px; padding: 4px 20px;
  border-bottom: 3px double var(--ink); background: var(--sheet); }}
.top .name {{ font-weight: 700; letter-spacing: .04em; font-size: 20px; }}
.top nav {{ display: flex; gap: 8px; flex-wrap: wrap; }}
.top nav a, .links a {{ display: inline-flex; align-items: center; min-height: 48px; padding: 0 14px; color: var(--ink);
  text-decoration: none; border-bottom: 3px solid transparent; border-top: 3px solid transparent; }}
.top nav a:hover, .top nav a[aria-current] {{ border-bottom-color: var(--ink); }}
.body {{ width: 100%; padding: 14px 20px 18px; display: block; flex: 1 0 auto; }}
.cautions {{ width: 100%; padding: 10px 20px 16px; border-top: 3px double var(--ink); font-size: 15px; }}
.cautions strong {{ display: inline-block; margin-right: 8px; }}
.block {{ width: 100%; }}
.split {{ display: grid; grid-template-columns: minmax(400px, 5fr) 8fr; gap: 24px; width: 100%; align-items: start; }}
.split > * {{ min-width: 0; }}
@media (max-width: 1100px) {{ .split {{ display: flex; flex-direction: column-reverse; align-items: stretch; }} }}
.grid {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(185px, 1fr)); gap: 8px 12px; width: 100%; }}
.grid > *, .corner > * {{ min-width: 0; }}
@media (min-width: 1101px) {{ .split.sticky > :first-child {{ position: sticky; top: 0; max-height: calc(100vh - 76px);
  overflow-y: auto; padding: 4px 10px 20px 4px; }} }}
.grid .wide, .wide {{ grid-column: 1 / -1; }}
.corner {{ display: grid; grid-template-columns: 28px 1fr 1fr 48px 48px; gap: 0 8px; width: 100%; align-items: start; }}
.corner > .n {{ padding-top: 16px; font-weight: 700; }}
.sheet {{ background: var(--sheet); border: 1px solid var(--rule); padding: 12px 16px; width: 100%; }}
.rows {{ list-style: none; margin: 0; padding: 0; width: 100%; }}
.row-line {{ display: flex; align-items: center; gap: 12px; border-bottom: 1px solid var(--rule); width: 100%;
  flex-wrap: wrap; min-height: 56px; }}
.row-line .what {{ flex: 1 1 260px; }}
.row-line a {{ display: inline-flex; align-items: center; min-height: 48px; font-weight: 700; }}
.bar {{ position: sticky; bottom: 0; z-index: 5; display: flex; flex-wrap: wrap; gap: 10px; width: 100%;
  padding: 10px 20px; background: var(--sheet); border-top: 2px solid var(--ink); }}
.q-btn {{ min-height: 48px; min-width: 48px; font-size: 17px;
  text-transform: none; font-weight: 700; border-radius: 2px;
  box-shadow: none !important; border: 2px solid var(--ink); background: var(--sheet) !important;
  color: var(--ink) !important; }}
.q-btn:before {{ box-shadow: none !important; }}
.q-btn:active {{ background: #ddd6c4 !important; transform: translateY(1px); }}
.q-btn.main {{ background: var(--ink) !important; color: #fff !important; }}
.q-btn[disabled] {{ opacity: .55 !important; border-style: dashed; }}
.q-btn-group {{ box-shadow: none; border-radius: 2px; }} .q-btn-group .q-btn {{ border-width: 1px; }}
.q-btn-group .q-btn[aria-pressed=true] {{ background: var(--ink) !important; color: #fff !important; }}
.q-tab {{ min-height: 52px; text-transform: none; padding: 0 12px; }}
.q-tab__label {{ font-size: 17px; font-weight: 700; }}
.q-tab-panels {{ background: transparent; width: 100%; }} .q-tab-panel {{ padding: 12px 0 0; }}
.q-tab-panels, .q-panel, .q-tab-panel, .q-panel.scroll {{ overflow: visible !important; }}
.q-uploader {{ width: 100%; border: 2px solid var(--ink); border-radius: 2px; box-shadow: none; margin: 10px 0; }}
.q-uploader__header {{ background: var(--sheet) !important; color: var(--ink) !important; }}
.q-uploader__title {{ font-size: 17px; }} .q-uploader__subtitle, .q-uploader__list:empty {{ display: none; }}
.q-uploader__list {{ min-height: 0; padding: 0; background: var(--sheet); }}
.q-field--outlined .q-field__control {{ border-radius: 2px; background: var(--sheet); min-height: 56px; }}
.q-field--outlined .q-field__control:before {{ border-color: #6d675b !important; }}
.q-field__native, .q-field__input {{ color: var(--ink); font-size: 19px; }}
.q-field__label {{ color: #4b463d; font-size: 17px; }} .q-field__suffix {{ color: #4b463d; }}
.q-field__bottom {{ font-size: 14.5px; color: #4b463d; line-height: 1.25; padding: 4px 2px 2px; min-height: 24px; }}
.q-field__messages {{ line-height: 1.25; }}
.q-field--with-bottom {{ padding-bottom: 0; }} .q-field__bottom--animated {{ position: static; transform: none; }}
.grid + .q-btn, .row-line + .q-btn, .sheet > .q-btn, .grid + .row-line {{ margin-top: 12px; }}
.q-field--error .q-field__bottom, .text-negative {{ color: var(--bad) !important; }}
.q-field--error .q-field__messages:before {{ content: "! "; font-weight: 700; }}
.q-item {{ min-height: 52px; font-size: 17px; }} .q-checkbox {{ min-height: 48px; font-size: 17px; }}
.q-checkbox__inner {{ font-size: 52px; }}
.q-notification {{ font-size: 17px; border-radius: 2px; box-shadow: none; border: 2px solid var(--ink);
  background: var(--sheet) !important; color: var(--ink) !important; }}
.q-notification * {{ color: var(--ink); }}
.busy:empty {{ display: none; }}
table.t {{ border-collapse: collapse; width: 100%; font-size: 16px; background: var(--sheet); }}
table.t th {{ text-align: left; font-weight: 700; border-bottom: 2px solid var(--ink); padding: 6px 8px;
  vertical-align: bottom; font-size: 15px; }}
table.t td {{ border-bottom: 1px solid #d5cebd; padding: 7px 8px; vertical-align: top; overflow-wrap: break-word; }}
table.t td.num {{ white-space: nowrap; font-variant-numeric: tabular-nums; }}
.scroll {{ overflow-x: auto; width: 100%; }}
.state {{ font-weight: 700; white-space: nowrap; }}
.state.passes {{ color: var(--good); }} .state.fails, .state.cannot-be {{ color: var(--bad); }}
.state.not-proven {{ color: var(--open); }}
.verdict {{ border: 3px solid var(--ink); background: var(--sheet); padding: 10px 16px; }}
.verdict.fails {{ border-color: var(--bad); border-left-width: 14px; }}
.verdict.not-proven {{ border-color: var(--open); border-style: dashed; border-left: 14px dashed var(--open); }}
.verdict.passes {{ border-color: var(--good); border-left-width: 6px; }}
.verdict .word {{ font-size: 33px; font-weight: 700; line-height: 1.15; }}
.verdict.fails .word {{ color: var(--bad); }} .verdict.passes .word {{ color: var(--good); }}
.verdict.not-proven .word {{ color: var(--open); }}
.window {{ display: flex; flex-wrap: wrap; gap: 6px 32px; align-items: baseline; margin-top: 10px; padding: 8px 16px;
  border: 1px solid var(--rule); background: var(--sheet); }}
.window .big {{ font-size: 38px; font-weight: 700; line-height: 1.1; font-variant-numeric: tabular-nums; }}
.window .other {{ font-size: 19px; }} .window dl, .facts {{ margin: 0; display: grid; gap: 2px 12px;
  grid-template-columns: max-content 1fr; }}
.facts dt, .window dt {{ font-weight: 700; }} .facts dd, .window dd {{ margin: 0; }}
.pictures {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(330px, 1fr)); gap: 14px; margin-top: 14px; }}
.pictures figure, figure.picture {{ margin: 0; background: #fff; border: 1px solid var(--rule); padding: 8px; }}
.pictures figure.broad {{ grid-column: 1 / -1; }}
.pictures img {{ max-height: 62vh; }}
.pictures img, figure.picture img {{ width: 100%; height: auto;
  display: block; object-fit: contain; }}
figcaption {{ font-weight: 700; font-size: 15px; padding-bottom: 4px; }}
.stale {{ opacity: .55; }} .busy {{ font-weight: 700; min-height: 28px; }}
.busy.on:before {{ content: ""; display: inline-block; width: 14px; height: 14px; margin-right: 8px;
  border: 3px solid var(--ink); border-right-color: transparent; border-radius: 50%; animation: turn 1s linear infinite;
  vertical-align: -2px; }}
@keyframes turn {{ to {{ transform: rotate(360deg); }} }}
@media (prefers-reduced-motion: reduce) {{ .busy.on:before {{ animation: none; }} }}
.gate {{ font-size: clamp(52px, 9vw, 116px); line-height: 1.05; font-weight: 700; padding: 18px 22px;
  border: 8px solid var(--bad); color: var(--bad); background: var(--sheet); text-align: center; }}
.gate.may {{ border-color: var(--good); color: var(--good); }}
.gate.must-not {{ border-style: double; border-width: 16px; }}
.gate + p {{ font-size: 23px; font-weight: 700; margin: 12px 0; }}
.huge .q-field__control {{ height: 96px; }}
.huge input.q-field__native {{ height: 96px; padding: 34px 0 0; }}
.huge .q-field__native {{ font-size: 34px; font-weight: 700;
  min-height: 66px; line-height: 40px; padding-top: 12px; }}
.huge.q-select .q-field__native {{ font-size: 24px; }}
.huge .q-field__append, .huge .q-field__marginal {{ height: 96px; }} .huge .q-field__suffix {{ padding-top: 34px; }}
pre.program {{ background: #fff; border: 1px solid var(--rule); padding: 10px; max-height: 420px; overflow: auto;
  font: 15px/1.4 "DejaVu Sans Mono", Consolas, monospace; margin: 0; }}
ul.plain {{ margin: 4px 0; padding-left: 22px; }} ul.plain li {{ margin: 2px 0; }}
@media print {{ .bar, .top nav, .split > :first-child {{ display: none; }} .split {{ display: block; }} }}
"""
