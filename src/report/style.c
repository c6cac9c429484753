#include "report/style.h"

#include <stddef.h>

/* Where a table is too wide for the screen its rows become cards, each cell with its column's
 * title.  Not on paper: there it is set smaller. */
#define CARDS(width, table) \
	"@media screen and (max-width:" width "){" \
	table "," table " tbody," table " caption{display:block}" \
	table " thead{position:absolute;width:1px;height:1px;overflow:hidden;" \
	"clip-path:inset(50%)}" \
	table " tr{display:block;border-bottom:1px solid var(--line);padding:.4rem 0;" \
	"max-width:34rem}" \
	table " th," table " td{display:flex;justify-content:space-between;gap:1rem;border:0;" \
	"padding:.05rem 0;text-align:right}" table " th{text-align:left;font-size:1.05rem}" \
	table " td::before{content:attr(data-label);color:var(--dim);font-weight:400;text-align:left;" \
	"flex:none;max-width:50%}" table " .none{display:none}}\n",

/* IEC 60073: red danger, yellow caution, green normal, blue to be done. */
const char *const report_style[] = {
	":root{color-scheme:light dark;--paper:#ffffff;--card:#f2f4f7;--ink:#1a1f24;--dim:#535c66;"
	"--line:#69737d;--grid:#dde2e7;--good:#0c6231;--caution:#7a4b00;--danger:#a80d1f;"
	"--open:#0b4fa8;--band:#cfe8d6}\n",
	"@media (prefers-color-scheme:dark){:root{--paper:#14181c;--card:#1e242a;--ink:#e8eaed;"
	"--dim:#a9b3bd;--line:#7f8b96;--grid:#2c343c;--good:#63d08f;--caution:#f0c04a;"
	"--danger:#ff9189;--open:#86bcff;--band:#1f4230}}\n",
	"@media print{:root{color-scheme:light;--paper:#ffffff;--card:#ffffff;--ink:#000000;"
	"--dim:#333333;--line:#666666;--grid:#d0d0d0;--good:#0c5229;--caution:#6b4200;"
	"--danger:#97081a;--open:#0b4594;--band:#d8ead9}}\n",
	"*{box-sizing:border-box}\n",
	"html{-webkit-text-size-adjust:100%}\n",
	"body{margin:0 auto;max-width:72rem;padding:1rem 1.25rem 3rem;background:var(--paper);"
	"color:var(--ink);font:1rem/1.5 system-ui,sans-serif;overflow-wrap:break-word}\n",
	"h1{font-size:1.7rem;line-height:1.2;margin:.5rem 0}\n",
	"h2{font-size:1.3rem;margin:2.2rem 0 .6rem;padding-top:.5rem;"
	"border-top:2px solid var(--line)}\n",
	"h3{font-size:1.08rem;margin:1.4rem 0 .4rem}\n",
	"p,ul,dl{margin:.5rem 0}\n",
	"p,li,dd{max-width:46rem}\n",
	".lead{color:var(--dim);max-width:none}\n",
	"nav ul{display:flex;flex-wrap:wrap;gap:.2rem 1rem;list-style:none;padding:0}\n",
	"nav li{max-width:none}\n",
	"a{color:var(--open)}\n",
	"nav a{display:inline-block;padding:.2rem 0}\n",
	"a:focus-visible{outline:3px solid var(--open);outline-offset:2px}\n",
	"dl{display:grid;grid-template-columns:minmax(8rem,max-content) 1fr;gap:.2rem 1rem}\n",
	"dt{color:var(--dim)}\n",
	"dd{margin:0}\n",
	".good{color:var(--good)}\n",
	".caution{color:var(--caution);font-weight:600}\n",
	".danger{color:var(--danger);font-weight:700}\n",
	".open{color:var(--open);font-weight:600}\n",
	"li.good,li.caution,li.danger,li.open{list-style:none;position:relative;font-weight:400}\n"
	"li.good,li.caution,li.open{color:var(--ink)}\n"
	"li.good .mark{color:var(--good)}li.caution .mark{color:var(--caution)}"
	"li.open .mark{color:var(--open)}\n"
	"li .mark{position:absolute;left:-1.3rem}\n"
	"p.good,p.caution,p.danger,p.open{padding:.5rem .8rem;background:var(--card);"
	"border-left:.35rem solid}\n",
	"table{border-collapse:collapse;margin:.8rem 0 1.2rem;max-width:100%;"
	"font-variant-numeric:tabular-nums}\n",
	"caption{text-align:left;font-weight:600;padding:.3rem 0}\n",
	"th,td{text-align:left;vertical-align:top;padding:.25rem .6rem;"
	"border-bottom:1px solid var(--line)}\n",
	"th{font-weight:600}\n"
	"td,tbody th{overflow-wrap:anywhere}\n"
	"tbody th:not(.n){min-width:11em}\n"
	".s{white-space:nowrap}\n"
	".wider{font-size:.9rem}.wider th,.wider td{padding:.25rem .4rem}"
	".wider tbody th{min-width:0}\n",
	"thead th{background:var(--card);color:var(--dim);vertical-align:bottom}\n",
	".n{text-align:right}\n",
	".figures{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,26rem),1fr));"
	"gap:1rem 1.5rem}\n",
	"figure{margin:.5rem 0;max-width:42rem}\n",
	"figcaption{font-weight:600}\n",
	"svg{display:block;width:100%;height:auto}\n",
	"svg text{font:13px system-ui,sans-serif}\n",
	".tick text,.name text{fill:var(--dim)}\n",
	".level{fill:var(--ink)}\n",
	".grid{stroke:var(--grid);stroke-width:1;fill:none}\n",
	".axis{stroke:var(--line);stroke-width:1.2;fill:none}\n",
	".band{fill:var(--band)}\n",
	".edge{stroke:var(--good);stroke-width:1;fill:none}\n",
	".expected{stroke:var(--good);stroke-width:1.6;stroke-dasharray:1 3;stroke-linecap:round;"
	"fill:none}\n",
	".abort{stroke:var(--danger);stroke-width:1.6;stroke-dasharray:8 4;fill:none}\n",
	".limit{stroke:var(--open);stroke-width:1.4;stroke-dasharray:4 3;fill:none}\n",
	".earlier{stroke:var(--dim);stroke-width:.9;fill:none}\n",
	".like{stroke:var(--open);stroke-width:1.4;stroke-dasharray:6 2 1 2;fill:none}\n",
	".readings{stroke:var(--ink);stroke-width:1.2;fill:none}\n",
	".m-good,.m-reading{fill:var(--ink)}\n",
	".m-over,.m-under{fill:var(--caution)}\n",
	".m-abort{stroke:var(--danger);stroke-width:2.4;fill:none}\n",
	".m-passing{stroke:var(--ink);stroke-width:1;fill:none}\n",
	".legend{display:flex;flex-wrap:wrap;gap:.1rem 1rem;list-style:none;padding:0;"
	"margin:.3rem 0;"
	"color:var(--dim);font-size:.9rem}\n",
	".legend .key{display:inline-block;width:22px;height:12px;vertical-align:-1px}\n",
		"@media (max-width:40rem){body{padding:.8rem .8rem 2rem}"
	"dl{display:block}dt{margin-top:.4rem}"
	"table{width:100%}}\n",
	CARDS("52rem", ".wide")
	CARDS("68rem", ".wider")
	"@media print{@page{margin:18mm 15mm}body{max-width:none;padding:0;font-size:10pt}"
	"nav{display:none}h2,h3,dl,caption,thead{break-after:avoid}tr,figure,dl{break-inside:avoid}"
	"tbody tr:nth-child(-n+2){break-before:avoid}tbody th:not(.n){min-width:8em}"
	".wider{font-size:8pt}.wider tbody th{min-width:0}"
	"thead{display:table-header-group}.figures{grid-template-columns:1fr 1fr}"
	"p,li{orphans:3;widows:3}}\n",
	NULL,
};
