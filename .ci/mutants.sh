#!/usr/bin/env bash
# Changes one constant of a rule, a mark, an offset at a time, by a little, in a
# copy of the checkout, and shows that a test fails for each: .ci/mutants.sh. A
# mutant that no test catches is a gap in the tests.
set -euo pipefail
cd "$(dirname "$0")/.."
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
git clone -q --no-hardlinks . "$scratch/checkout"
cd "$scratch/checkout"

caught=0 missed=0
while IFS='|' read -r file old new packages; do
  [ -n "$file" ] || continue
  if [ "$(grep -cF -- "$old" "$file")" -ne 1 ]; then
    echo "NOT ONCE  $file: $old" && missed=$((missed + 1))
    continue
  fi
  OLD=$old NEW=$new perl -0pi -e 's/\Q$ENV{OLD}\E/$ENV{NEW}/' "$file"
  # shellcheck disable=SC2086 # packages are words
  if go test -count=1 -timeout 3m $packages >/dev/null 2>&1; then
    echo "MISSED    $file: $old -> $new" && missed=$((missed + 1))
  else
    echo "caught    $file: $old -> $new" && caught=$((caught + 1))
  fi
  git checkout -q -- "$file"
done <<'MUTANTS'
blink/blink.go|[10]Group{"__", "."|[10]Group{"_.", "."|./blink
blink/blink.go|"...", "....", "_", "_."|"...", "....", "_", "_.."|./blink
blink/blink.go|MarkGap: 1, GroupGap: 4, Rest: 12|MarkGap: 1, GroupGap: 4, Rest: 11|./blink
blink/blink.go|MarkGap: 1, GroupGap: 4, Rest: 12|MarkGap: 1, GroupGap: 5, Rest: 12|./blink
blink/blink.go|Short: 1, Long: 3|Short: 1, Long: 4|./blink
blink/blink.go|{channelplan.Digital, 2}, {channelplan.CW, 3}|{channelplan.Digital, 3}, {channelplan.CW, 2}|./blink
blink/blink.go|HundredAdds:  5|HundredAdds:  4|./blink
blink/blink.go|Manual:  {{true, 16}|Manual:  {{true, 15}|./blink
blink/blink.go|Holding: {{true, 6}, {false, 4}|Holding: {{true, 6}, {false, 5}|./blink
blink/check.go|{0, 3, 1, 7, 5, 9, 8, 6, 4, 2}|{0, 3, 1, 7, 5, 9, 8, 6, 2, 4}|./blink
blink/check.go|{1, 5, 7, 6, 2, 8, 3, 0, 9, 4}|{1, 5, 7, 6, 2, 8, 3, 0, 4, 9}|./blink
blink/flash.go|const MaxFlashes = 3|const MaxFlashes = 4|./blink
blink/flash.go|marginPercent = 7|marginPercent = 9|./blink
blink/sheet/tally.toml|8 = "_..."|8 = "_.._"|./blink/sheet
blink/sheet/tally.toml|seeking = [8, 8]|seeking = [8, 9]|./blink/sheet
blink/quality/quality.go|marks[:i+1]+marks[i:], marks[:i]+other|marks[:i]+marks[i:], marks[:i]+other|./blink/quality
blink/flash.go|shutterWindow = time.Second + 50*time.Millisecond|shutterWindow = time.Second - 50*time.Millisecond|./blink
channelplan/book/clock.go|const aheadMost = 24 * time.Hour|const aheadMost = 30 * time.Hour|./channelplan/book
channelplan/plan.go|AuralOffsetHz    = 4_500_000|AuralOffsetHz    = 4_500_500|./channelplan
channelplan/plan.go|CenterOffsetHz   = 1_750_000|CenterOffsetHz   = 1_762_500|./channelplan
channelplan/plan.go|ChromaOffsetHz   = 3_579_545|ChromaOffsetHz   = 3_579_540|./channelplan
channelplan/plan.go|const CombHz = 6_000_300|const CombHz = 6_000_301|./channelplan
channelplan/plan.go|{14, 16, 121_262_500, 6_000_000}|{14, 17, 121_262_500, 6_000_000}|./channelplan
channelplan/plan.go|{42, 42, 330_025_000, CombHz}|{42, 42, 330_016_500, CombHz}|./channelplan
channelplan/aeronautical.go|25_000, 760, 12_500, true}|25_000, 760, 12_000, true}|./channelplan
channelplan/aeronautical.go|{405_925_000, 406_176_000|{405_925_000, 406_175_000|./channelplan
channelplan/lineup/rules.go|lineOffHz = 50_000|lineOffHz = 20_000|./channelplan/lineup
channelplan/lineup/rules.go|neighborStrongDB = 10|neighborStrongDB = 9|./channelplan/lineup
channelplan/lineup/rules.go|levelOddDB       = 3|levelOddDB       = 3.5|./channelplan/lineup
channelplan/lineup/rules.go|levelNoteDB      = 1.5|levelNoteDB      = 1.0|./channelplan/lineup
channelplan/lineup/rules.go|analogOffHz      = 5_000|analogOffHz      = 6_000|./channelplan/lineup
channelplan/lineup/rules.go|edgeChannels     = 2|edgeChannels     = 3|./channelplan/lineup
channelplan/lineup/rules.go|lowShare         = 0.25|lowShare         = 0.26|./channelplan/lineup
channelplan/lineup/rules.go|effective.AddDate(1, 0, 0)|effective.AddDate(2, 0, 0)|./channelplan/lineup
channelplan/lineup/lineup.go|shareableHz = 100_000|shareableHz = 90_000|./channelplan/lineup
channelplan/lineup/level.go|QAM256BelowDB = 6|QAM256BelowDB = 7|./channelplan/lineup
channelplan/lineup/level.go|QAM64BelowDB  = 10|QAM64BelowDB  = 9|./channelplan/lineup
channelplan/lineup/change.go|alikeDB = 0.5|alikeDB = 0.4|./channelplan/lineup
channelplan/lineup/change.go|alikeHz = 5_000|alikeHz = 20_000|./channelplan/lineup
channelplan/lineup/change.go|min(max(s.DB, -r.DownDB), r.UpDB)|min(max(s.DB, -r.UpDB), r.DownDB)|./channelplan/lineup
channelplan/lineup/rank.go|apartHz = 60_000_000|apartHz = 54_000_000|./channelplan/lineup
channelplan/season/season.go|perDegree = 0.0011|perDegree = 0.0012|./channelplan/season
channelplan/season/season.go|Reference Fahrenheit = 68|Reference Fahrenheit = 70|./channelplan/season
channelplan/season/season.go|farAbove = 2|farAbove = 3|./channelplan/season
channelplan/plant/field/faults.go|oneRound = time.Hour|oneRound = 24000 * time.Hour|./channelplan/plant/field
channelplan/plant/cutover/schedule.go|tails[i]+1)|tails[i])|./channelplan/plant/cutover
channelplan/plant/audit/seen.go|4*k.count >= 3*len(k.slots)|4*k.count >= 5*len(k.slots)|./channelplan/plant/audit
trainer/progress/standing.go|r.Right >= PassMark|r.Right > PassMark|./trainer/progress
MUTANTS
echo "$caught caught, $missed missed"
[ "$missed" -eq 0 ]
