# Rows of individuals out of a printed curve: month, at risk before it, events in it. Those who are not at risk at the
# next month withdrew half a month before that; the rest after the last month.
BEGIN { FS = ","; print "time,event" }
NR == 1 { next }
NR > 2 { for (i = 0; i < left - $2; i++) print $1 - 0.5 ",0" }
{ for (i = 0; i < $3; i++) print $1 ",1"; left = $2 - $3; month = $1 }
END { for (i = 0; i < left; i++) print month + 0.5 ",0" }
