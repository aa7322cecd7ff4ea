#!/usr/bin/env bash
# Prints the QAM centers of the five lists of Debian's package dtv-scan-tables
# as testdata/channelplan/dtv-scan-tables.csv holds them: CI compares the two.
set -euo pipefail
echo 'list,position,center_hz'
for list in Cable-Standard-center-frequencies Cable-IRC-center-frequencies Cable-HRC-center-frequencies \
    Cable-EIA-542-IRC-center_frequencies Cable-EIA-542-HRC-center-frequencies; do
  file=$(dpkg -L dtv-scan-tables | grep "/dvb-legacy/atsc/us-$list-QAM256\$")
  awk -v list="us-$list-QAM256" '$1 == "A" { n++; print list "," n "," $2 }' "$file"
done
