#!/bin/sh
# The page in a browser: a plain instrument, one of three saddles with all that a visit can hold as
# a draft, and more than any page can. No wider than a telephone, no request, no word on the
# console, contrast by the formula of WCAG 2.2 (relative luminance, 1.4.3), one page of paper.
command -v chromium >/dev/null && command -v pdfinfo >/dev/null || exit 77

# book NAME STRINGS SADDLES NOTE ROWS: a visit of an invented instrument as an export.
book() {
  awk -v name="$1" -v strings="$2" -v each="$3" -v note="$4" -v rows="$5" '
    function event(kind, string, data) {
      out = out sprintf("{\"event\":\"%s\",\"at_ms\":1795608341729,\"string\":%d,\"data\":{%s}}\n", kind, string, data); n++ }
    function reading(i, cents, round) {
      event("reading", i, sprintf("\"octave_error_cents\":%s,\"std_error_cents\":0.2,\"round\":\"%s%d\"", cents, round, i)) }
    BEGIN {
      split("E4 B3 G3 D3 A2 E2", notes, " ")
      for (i = 1; i <= strings; i++) {
        all = all (i > 1 ? "," : "") sprintf("{\"note\":\"%s\",\"gauge_mm\":0.254,\"wound\":false,\"course\":%d,\"scale_mm\":648}", notes[(i - 1) % 6 + 1], i)
        if (i % each == 0)
          under = under (i > each ? "," : "") sprintf("{\"strings\":[%d,%d],\"way\":\"screw\",\"shape\":\"flat\",\"thread_mm\":null,\"screw\":\"pulls\",\"travel_mm\":null}", i - each + 1, i)
      }
      event("described", 0, "\"owner\":\"J-17 \\u05d2\\u05d9\\u05d8\\u05e8\\u05d4\",\"kind\":\"\",\"frets\":22,\"spacing_mm\":10,\"strings\":[" all "],\"saddles\":[" under "]")
      event("visit", 0, "\"what\":\"begun\"")
      for (i = 1; i <= strings; i++) reading(i, i % 5 * 2.1 - 4, "a")
      for (i = 1; i <= rows; i++) {
        event("measured", 0, sprintf("\"what\":\"crown\",\"name\":\"crown-%d\",\"value_mm\":0.9", i))
        event("measured", 0, sprintf("\"what\":\"quiet\",\"position\":\"%d\",\"below_pluck_db\":40.1,\"hum_hz\":50,\"hum_dbfs\":-60.2", i))
      }
      for (i = 1; i <= strings; i += each) event("move", i, "\"move_mm\":0.72,\"end_mm\":0.72,\"std_error_mm\":0.1")
      for (i = 1; i <= strings; i++) reading(i, i % 2 * 2.2 - 1.1, "b")
      if (note) event("note", 0, "\"text\":\"" note "\"")
      printf "{\"schema\":\"setback.book/1\"}\n{\"instrument\":\"%s\",\"added_ms\":1795608341729}\n%s{\"end\":\"setback.book/1\",\"instruments\":1,\"events\":%d}\n", name, out, n
    }' >"$1.jsonl"
  setback book import "$1.jsonl" >imported || exit
}
words() { awk -v word="$1" -v n="$2" 'BEGIN { for (i = 0; i < n; i++) printf "%s", word }'; }
book plain 6 1 '' 0
book full 6 2 "$(words 'the neck was eased by an eighth of a turn; ' 15)" 5
book over 24 1 "$(words W 4000)" 24
setback handover plain -o plain.html && setback handover full -o full.html --draft &&
  setback handover over -o over.html --draft || exit

browse() {
  chromium --headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking \
    --allow-file-access-from-files --enable-logging=stderr --user-data-dir="$PWD/profile" "$@" 2>said
}

# Each sheet in a frame of three widths. A frame's own style applies, as on a screen so wide.
cat >widths.html <<'EOF'
<!DOCTYPE html><meta charset="utf-8"><pre id="o"></pre><script>
const luminance = c => { const [r, g, b] = c.match(/[\d.]+/g).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b; };
const contrast = (a, b) => { const [l, m] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (l + 0.05) / (m + 0.05); };
const lines = [];
const look = (sheet, width) => new Promise(done => {
  const f = document.createElement('iframe');
  f.style = `width:${width}px;height:700px`;
  f.onload = () => {
    const d = f.contentDocument, of = e => f.contentWindow.getComputedStyle(e);
    const paper = of(d.documentElement).backgroundColor, stamp = d.querySelector('.stamp');
    let least = 99, words = 0;
    for (const e of d.body.querySelectorAll('*')) {
      if (e.closest('.stamp, title, desc') || ![...e.childNodes].some(n => n.nodeType == 3 && n.data.trim())) continue;
      const ink = e.closest('svg') ? of(e).fill : of(e).color;
      least = Math.min(least, contrast(ink, paper), stamp ? contrast(ink, of(stamp).color) : 99);
      words++;
    }
    for (const e of d.querySelectorAll('.edge, .axis, .bar, .before, .after'))
      if (contrast(of(e).stroke, paper) < 3) lines.push(`${sheet}: a pale line, ${e.className.baseVal}`);
    const root = d.documentElement, requests = f.contentWindow.performance.getEntriesByType('resource').length;
    lines.push(`${sheet} ${width}: ${root.scrollWidth > width ? 'SCROLLS' : 'fits'}, requests ${requests}, ` +
      `contrast ${words > 60 && least >= 4.5 ? 'AA' : least}`);
    f.remove();
    done();
  };
  f.src = sheet + '.html';
  document.body.append(f);
});
(async () => {
  for (const sheet of ['plain', 'full', 'over']) for (const width of [360, 768, 1280]) await look(sheet, width);
  o.textContent = lines.join('\n') + '\nend';
})();
</script>
EOF
for scheme in 0 1; do
  browse --blink-settings="preferredColorScheme=$scheme" --virtual-time-budget=20000 --dump-dom "file://$PWD/widths.html" |
    sed -n '/<pre/,/<\/pre>/p' | sed -e 's/.*<pre id="o">//' -e 's/<\/pre>.*//'
done

# pages SHEET PAPER
pages() {
  sed "s/@page{/@page{size:$2;/" "$1.html" >paper.html
  browse --no-pdf-header-footer --print-to-pdf=paper.pdf "file://$PWD/paper.html" >/dev/null
  printf '%s: console %s, ' "$1" "$(grep -c CONSOLE said)"
  pdfinfo paper.pdf | awk '/^Pages/ { n = $2 } /^Page size/ { print n, "of", $NF }'
}
pages plain letter
for sheet in full over; do pages "$sheet" A4 && pages "$sheet" letter; done
