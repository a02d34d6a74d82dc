#!/bin/sh
# What rulers, meters and the lead said in a visit, and not in the one before. An invented log.
cat >rows.jsonl <<'EOF'
{"schema":"setback.book/1"}
{"instrument":"practice","added_ms":1795608341729}
{"event":"described","at_ms":1795608341729,"string":0,"data":{"owner":"","kind":"electric","frets":22,"spacing_mm":10,"strings":[{"note":"E4","gauge_mm":0.254,"wound":false,"course":1,"scale_mm":648},{"note":"B3","gauge_mm":0.3302,"wound":false,"course":2,"scale_mm":648}],"saddles":[{"strings":[1,1],"way":"screw","shape":"flat","thread_mm":null,"screw":"pulls","travel_mm":null},{"strings":[2,2],"way":"fixed","shape":"flat","thread_mm":null,"screw":"pulls","travel_mm":null}]}}
{"event":"visit","at_ms":1795608341730,"string":0,"data":{"what":"begun"}}
{"event":"measured","at_ms":1795608341731,"string":0,"data":{"what":"radius","name":"radius","value_mm":305}}
{"event":"note","at_ms":1795608341731,"string":0,"data":{"text":"of another visit"}}
{"event":"reading","at_ms":1795608341731,"string":2,"data":{"octave_error_cents":9,"std_error_cents":0.1,"round":"z"}}
{"event":"visit","at_ms":1795608341731,"string":0,"data":{"what":"ended"}}
{"event":"visit","at_ms":1795608341732,"string":0,"data":{"what":"begun"}}
{"event":"measured","at_ms":1795608341732,"string":0,"data":{"what":"relief","name":"relief","value_mm":0.45}}
{"event":"measured","at_ms":1795608341732,"string":0,"data":{"what":"buzz","name":"buzz","text":"string 2 at fret 14, cured"}}
{"event":"measured","at_ms":1795608341732,"string":0,"data":{"what":"quiet","position":"neck","noise_dbfs":-72,"hum_dbfs":-58.3,"hum_hz":50,"below_pluck_db":38.2,"when":"before"}}
{"event":"reading","at_ms":1795608341732,"string":1,"data":{"octave_error_cents":3,"std_error_cents":0.1,"round":"a"}}
{"event":"measured","at_ms":1795608341733,"string":0,"data":{"what":"relief","name":"relief","value_mm":0.28,"changed":true}}
{"event":"strings","at_ms":1795608341733,"string":0,"data":{"strings":[{"note":"E4","gauge_mm":0.2413,"wound":false,"course":1},{"note":"B3","gauge_mm":null,"wound":true,"course":2}]}}
{"event":"measured","at_ms":1795608341733,"string":1,"data":{"what":"settled","verdict":"stretch again"}}
{"event":"measured","at_ms":1795608341733,"string":1,"data":{"what":"settled","verdict":"settled"}}
{"event":"measured","at_ms":1795608341733,"string":0,"data":{"what":"nut","changed":true}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"crown","name":"crown","value_mm":0.6}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"resistance","name":"resistance-a","value_ohm":6870}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"quiet","position":"neck","noise_dbfs":-74,"hum_dbfs":null,"hum_hz":null,"below_pluck_db":56.2,"when":"after"}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"quiet","position":null,"noise_dbfs":-74.2}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"taps","position":"neck","pickup":"neck","level_dbfs":-20,"verdict":"weak","meant":true}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"taps","position":"neck","pickup":"neck","level_dbfs":-20,"verdict":"live","meant":true}}
{"event":"measured","at_ms":1795608341734,"string":0,"data":{"what":"taps","position":"neck","pickup":"bridge","level_dbfs":-70,"verdict":"dead","meant":true}}
{"event":"measured","at_ms":1795608341734,"string":1,"data":{"what":"balance","position":"neck","level_dbfs":-20.3,"std_error_db":0.4,"verdict":"first side high"}}
{"event":"measured","at_ms":1795608341734,"string":2,"data":{"what":"balance","position":"neck","level_dbfs":-24.3,"std_error_db":0.4,"verdict":"first side high"}}
{"event":"reading","at_ms":1795608341735,"string":1,"data":{"octave_error_cents":0.31,"std_error_cents":0.1,"round":"b"}}
{"event":"reading","at_ms":1795608341735,"string":2,"data":{"octave_error_cents":-4.2,"std_error_cents":0.1,"round":"c"}}
{"event":"reading","at_ms":1795608341735,"string":1,"data":{"schema":"setback.survey/1","in_words":"nut 0.52 mm FORWARD"}}
{"event":"measured","at_ms":1795608341736,"string":1,"data":{"what":"recheck","octave_error_cents":0.4,"std_error_cents":0.1,"was_cents":0.31,"was_std_error_cents":0.1,"verdict":"same"}}
{"event":"visit","at_ms":1795608341737,"string":0,"data":{"what":"ended"}}
{"event":"measured","at_ms":1798908341737,"string":1,"data":{"what":"recheck","octave_error_cents":9,"std_error_cents":0.1,"verdict":"worse"}}
{"end":"setback.book/1","instruments":1,"events":31}
EOF
setback book import rows.jsonl
setback handover practice --text
echo '== as a table, and the events behind it'
setback handover practice -o sheet.html && grep -c '<tr><th scope="row">' sheet.html
setback handover practice --json | grep -o '"what":"[a-z]*"' | sort | uniq -c | awk '{ print $1, $2 }'
echo '== once written, the log is as it was'
setback book show practice --log | grep -c visit
echo '== judged otherwise'
setback handover practice --text --tolerance 5 | sed -n '/^Every/p'
