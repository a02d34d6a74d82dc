/* How the page looks. Two sets of colours, each with text of 4.5:1 and lines that carry meaning of
 * 3:1 or better on its paper (WCAG 2.2, 1.4.3 and 1.4.11; tests/cli/handover-page.sh computes
 * them), and black on white in print. Pieces, since C11 promises literals of 4095 bytes only. */
#include <stddef.h>

#include "cli/html_handover.h"

static const char *const pieces[] = {
    /* colours */
    ":root{color-scheme:light dark;--paper:#fff;--ink:#15181c;--soft:#4a515a;--line:#747c86;"
    "--faint:#d5d9de;--band:#e3e8ec;--mark:#0a4a66;--stamp:#ececec}\n"
    "@media (prefers-color-scheme:dark){:root{--paper:#14171a;--ink:#eceef1;--soft:#b4bbc4;"
    "--line:#868f9a;--faint:#3a4149;--band:#2b333b;--mark:#a5d6ec;--stamp:#23282d}}\n",
    /* type: a scale of 1.2; figures of one width */
    "html{background:var(--paper);color:var(--ink);font:100%/1.5 system-ui,sans-serif;"
    "font-variant-numeric:tabular-nums;-webkit-text-size-adjust:100%;text-size-adjust:100%}\n"
    "body{margin:0}\n"
    "main{max-width:52rem;margin:0 auto;padding:1.5rem 1rem 3rem;overflow-wrap:anywhere}\n"
    "h1,h2,p,ul,dl,figure,table{margin:0}\n"
    "h1{font-size:2.07rem;line-height:1.15;font-weight:700;letter-spacing:-.01em}h1.long{font-size:"
    "1.44rem}\n"
    "h2{font-size:1.2rem;line-height:1.3;font-weight:650;margin:2rem 0 .5rem}\n"
    ".over{font-size:.833rem;color:var(--soft);margin-bottom:.25rem}\n"
    "ul{padding-left:1.15rem}li+li{margin-top:.25rem}\n"
    "small,.small,caption,figcaption{font-size:.833rem;line-height:1.4;color:var(--soft)}\n",
    /* head */
    "dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem 1rem;margin-top:1rem}\n"
    "dt{color:var(--soft)}dd{margin:0}\n"
    ".result{font-size:1.2rem;line-height:1.35;font-weight:600;margin-top:1.25rem;"
    "padding:.6rem 0;border-top:2px solid var(--ink);border-bottom:1px solid var(--line)}\n"
    ".draft{border:2px dashed var(--ink);padding:.6rem .8rem;margin-bottom:1.25rem}\n"
    ".draft strong{text-transform:uppercase;letter-spacing:.08em}\n"
    ".stamp{position:fixed;inset:0;z-index:-1;overflow:hidden;display:grid;place-items:center;"
    "color:var(--stamp);font-size:min(34vw,17rem);font-weight:800;letter-spacing:.05em}\n"
    ".stamp span{white-space:nowrap;transform:rotate(-32deg)}\n",
    /* tables */
    "table{border-collapse:collapse;width:100%}.strings{overflow-wrap:break-word}\n"
    "caption{text-align:left;padding-bottom:.4rem}\n"
    "th,td{padding:.32rem .5rem .32rem 0;text-align:left;vertical-align:top;"
    "border-bottom:1px solid var(--faint)}\n"
    "th:last-child,td:last-child{padding-right:0}\n"
    "thead th{border-bottom-color:var(--line);font-weight:600;vertical-align:bottom}\n"
    "tbody th{font-weight:400}.bench th::first-letter{text-transform:uppercase}\n"
    "th.n,td.n{text-align:right;padding-right:1rem}.strings td.n,.strings tbody "
    "th{white-space:nowrap}\n"
    "td small{display:block;line-height:1.25}\n",
    /* chart */
    "svg{display:block;width:100%;max-width:30rem;height:auto;color:var(--ink)}\n"
    "svg text{font-size:12px;fill:var(--ink)}svg .mid{text-anchor:middle}"
    "svg .end{text-anchor:end}svg .soft{fill:var(--soft)}svg .name{font-weight:600}\n"
    "svg path{fill:none;stroke:var(--ink)}svg .band{fill:var(--band)}"
    "svg .edge{stroke:var(--line);stroke-dasharray:3 2}svg .row{stroke:var(--faint)}"
    "svg .bar{stroke-width:1.2}\n"
    "svg .before{fill:var(--paper);stroke:var(--ink);stroke-width:1.6}"
    "svg .after{fill:var(--mark);stroke:var(--mark)}\n",
    /* wide */
    "@media (min-width:48rem){main{padding:2.5rem 2rem 4rem}"
    ".pair{display:grid;grid-template-columns:1fr 1fr;gap:0 2rem;align-items:start}"
    ".bench:not(.heard) td:nth-child(-n+4){white-space:nowrap}}\n"
    /* narrow: the bench's table folds into blocks */
    "@media (max-width:35rem){html{font-size:94%}.bench thead{position:absolute;width:1px;"
    "height:1px;overflow:hidden;clip-path:inset(50%)}"
    ".bench tr{display:block;border-bottom:1px solid var(--faint);padding:.4rem 0}"
    ".bench th,.bench td{display:block;border:0;padding:0}.bench th{font-weight:600}"
    ".bench td:empty{display:none}.bench td::before{content:attr(data-k) \": \";"
    "color:var(--soft)}}\n",
    /* paper */
    "@page{margin:12mm}\n"
    "@media print{:root{color-scheme:light;--paper:#fff;--ink:#000;--soft:#333;--line:#555;"
    "--faint:#bbb;--band:#e2e2e2;--mark:#000;--stamp:#e6e6e6}\n"
    "html{font-size:10pt;line-height:1.38}html.snug{font-size:9.1pt}html.close{font-size:8.2pt}"
    "html.tight{font-size:7.6pt;line-height:1.33}html.dense{font-size:7.1pt;line-height:1.28}\n"
    "svg{max-width:100%}.snug svg{max-width:94%}.close svg{max-width:88%}"
    ".tight svg{max-width:81%}.dense svg{max-width:74%}\n"
    ":is(.close,.tight,.dense) td small{display:inline}"
    ":is(.close,.tight,.dense) td small::before{content:\"\\2002\"}\n",
    "main{max-width:none;padding:0}"
    ".pair{display:grid;grid-template-columns:1fr 1fr;gap:0 7mm;align-items:start}\n"
    "h1{font-size:1.73rem}h1.long{font-size:1.2rem}"
    "h2{font-size:1.1rem;margin:.8rem 0 .25rem;break-after:avoid}"
    "dl{margin-top:.5rem;gap:0 1rem}.result{font-size:1.1rem;margin-top:.6rem;padding:.3rem 0}\n"
    "th,td{padding-top:.1rem;padding-bottom:.1rem}th.n,td.n{padding-right:.7rem}"
    ".bench:not(.heard) td:nth-child(-n+4){white-space:nowrap}li+li{margin-top:.1rem}"
    ".draft{padding:.3rem .6rem;margin-bottom:.6rem}"
    ".screen{display:none}.stamp{font-size:15rem;print-color-adjust:exact}}\n"
    "@media not print{.print{display:none}}\n",
    NULL,
};

const char *const *sb_html_handover_style(void) {
    return pieces;
}
