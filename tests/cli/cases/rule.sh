# House rules: listed, shown, edited, and what an audit says of an edit.

run new
run load --kind implants "$SOURCE/sample-data/implants.csv"

test_that "rule lists the nine rules"
run rule
exits 0
prints <<'END'
depth-below-crest: Put the platform 1 to 2 mm below the crest.
tissue-plus-depth: Make tissue height plus depth reach about 4 mm.
torque-per-millimetre: When the motor stalls at 30 Ncm with the implant 2 mm proud, expect about 10 Ncm more for each further millimetre.
never-stalled: When it never stalls, change the implant or close over it.
bone-all-round: Keep 1.5 mm of bone all round.
density-by-drill: Judge density by what the drill brings out.
dense-bone-drilling: Drill dense bone deeper and wider.
size-in-reserve: Keep the next size in reserve.
wait-twelve-weeks: Wait about 12 weeks before loading.
END

test_that "a rule is shown with what can be set"
run rule bone-all-round
exits 0
prints <<'END'
bone-all-round: Keep 1.5 mm of bone all round.
  smallest-difference 0.3 mm: smallest difference that matters
  confounders tissue_mm,smoking,density_planned,periodontitis: held equal
  wall 1.5 mm: least thickness of the thinner of the two walls
END

test_that "an edit is kept with its day, who made it and why"
SOURCE_DATE_EPOCH=1767225600 run rule bone-all-round --set wall=2 --by QH --origin "meeting in January"
exits 0
run rule bone-all-round
prints <<'END'
bone-all-round: Keep 1.5 mm of bone all round.
  smallest-difference 0.3 mm: smallest difference that matters
  confounders tissue_mm,smoking,density_planned,periodontitis: held equal
  wall 2 mm: least thickness of the thinner of the two walls
  edited 2026-01-01: wall from 1.5 to 2 by QH (meeting in January)
END
run rule tissue-plus-depth --set stated-value=3.5 --by QH
exits 0
run rule depth-below-crest --set confounders=smoking,tissue_mm --by QH
exits 0

test_that "the figures follow the edit"
run figures --period 2026Q2
exits 0
says 'rules,rule_parameter,rule|parameter,bone-all-round|wall,,,,,,2,'
says 'rules,rule_stated_value,rule,tissue-plus-depth,,,,,,3.5,'
says 'rules,rule_edited,rule,bone-all-round,,,,,,0,'

test_that "an audit flags a rule edited after the first audit"
run audit --period 2026Q1 --out first
run rule bone-all-round --set smallest-difference=0.2 --by QH
exits 0
run figures --period 2026Q2
says 'rules,rule_edited,rule,bone-all-round,,,,,,1,'
run audit --period 2026Q2 --out second
has second/audit.html 'its verdict is not comparable with audits before'
lacks first/audit.html 'its verdict is not comparable with audits before'

test_that "whether an edit came before or after an audit is told even within one second"
export SOURCE_DATE_EPOCH=1767225600
run new --store still.db
run load --store still.db --kind implants "$SOURCE/sample-data/implants.csv"
run rule --store still.db bone-all-round --set wall=2 --by QH
run audit --store still.db --period 2026Q1 --out still
run rule --store still.db tissue-plus-depth --set stated-value=3.5 --by QH
run figures --store still.db --period 2026Q2
says 'rules,rule_edited,rule,bone-all-round,,,,,,0,'
says 'rules,rule_edited,rule,tissue-plus-depth,,,,,,1,'
unset SOURCE_DATE_EPOCH

test_that "what does not fit is refused in words and changes nothing"
run rule bone-all-round --set wall=99 --by QH
exits 2
warns "wall of rule bone-all-round lies from 0 to 15"
run rule bone-all-round --set wall=thick --by QH
exits 2
warns "'thick' is not a number"
run rule bone-all-round --set wal=1 --by QH
exits 2
warns "rule bone-all-round has nothing called 'wal'"
run rule bone-all-round --set stated-value=1 --by QH
exits 2
warns "rule bone-all-round has nothing called 'stated-value'"
run rule bone-around --set wall=1 --by QH
exits 2
warns "there is no house rule 'bone-around'"
run rule bone-around
exits 2
warns "there is no house rule 'bone-around'"
run rule bone-all-round --set wall=2 --by QH
exits 2
warns "is 2 already"
run rule bone-all-round --set smallest-difference=0 --by QH
exits 2
warns "must be above 0"
run rule bone-all-round --set confounders=operator --by QH
exits 2
warns "names a fact that cannot be held equal"
run rule bone-all-round --set wall --by QH
exits 2
warns "is not WHAT=VALUE"
run rule bone-all-round --set wall=1
exits 2
warns "an edit needs --by WHO"
run rule --set wall=1 --by QH
exits 2
warns "which rule?"
run rule bone-all-round --by QH
exits 2
warns "belong to --set"
run verify
exits 0
