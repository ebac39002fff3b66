# Rows of individuals out of a printed table of intervals: failures in the middle of their interval, those who are not
# there at the next start withdrawn after the failures of the interval. The last interval's rest is withdrawn there.
BEGIN { FS = ","; print "time,event" }
NR == 1 { next }
NR > 2 { write(start, entering, failed, entering - failed - $2) }
{ start = $1; entering = $2; failed = $3 }
END { write(start, entering, failed, 0); for (i = 0; i < entering - failed; i++) print start + 1.75 ",0" }
function write(at, n, d, w,    i) {
    for (i = 0; i < d; i++) print at + 0.5 ",1"
    for (i = 0; i < w; i++) print at + 0.75 ",0"
}
