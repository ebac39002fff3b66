# What `make install` puts where, that bash and zsh find the completion there, and that `make uninstall` leaves no file.

in_source() { make -s -C "$SOURCE" DEPS=no PROGRAM="$RIDGETALLY" "$@" > made 2>&1 || wrong "make $*: $(cat made)"; }
files() { (cd "$1" && find . ! -type d | sort); }

mkdir stage
test_that "below DESTDIR and PREFIX, whatever the umask: six files that all may read, one that all may run"
(umask 077 && in_source install-files DESTDIR="$PWD/stage" PREFIX=/opt/tally)
files stage > out
cat > wanted <<'END'
./opt/tally/bin/ridgetally
./opt/tally/share/bash-completion/completions/ridgetally
./opt/tally/share/doc/ridgetally/LICENSE
./opt/tally/share/doc/ridgetally/README.md
./opt/tally/share/man/man1/ridgetally.1
./opt/tally/share/zsh/site-functions/_ridgetally
END
same wanted out
count 0 find stage ! -type d ! -perm 644 ! -path '*/bin/ridgetally'
count 1 find stage ! -type d -perm 755
count 0 find stage/opt -type d ! -perm 755

test_that "the installed program is the whole program"
holds stage/opt/tally/bin/ridgetally demo --out installed
holds test -s installed/audit.html

test_that "man finds the page"
if command -v man > /dev/null; then
    man -M stage/opt/tally/share/man -w ridgetally > out 2>&1
    has out stage/opt/tally/share/man/man1/ridgetally.1
fi

test_that "bash finds the completion by the name of the program"
if [ -r /usr/share/bash-completion/bash_completion ]; then
    PATH=$PWD/stage/opt/tally/bin:$PATH XDG_DATA_DIRS=$PWD/stage/opt/tally/share bash --norc -c '
        . /usr/share/bash-completion/bash_completion
        _completion_loader ridgetally
        complete -p ridgetally' > out 2>&1
    has out "-F _ridgetally ridgetally"
fi

test_that "zsh finds it among its functions"
if command -v zsh > /dev/null; then
    zsh -f -c 'fpath=($PWD/stage/opt/tally/share/zsh/site-functions $fpath)
        autoload -Uz compinit && compinit -u -d dump && print -r -- $_comps[ridgetally]' > out 2>&1
    has out _ridgetally
    zsh -f -c 'print -rl -- $fpath' > out
    # Debian's zsh looks below /usr/local by itself, which is the PREFIX that is not given
    [ ! -e /etc/debian_version ] || has out /usr/local/share/zsh/site-functions
fi

test_that "uninstalling leaves no file of ours and all of others"
mkdir -p stage/opt/tally/share/doc/other
touch stage/opt/tally/share/doc/other/README.md stage/opt/tally/bin/other
in_source uninstall DESTDIR="$PWD/stage" PREFIX=/opt/tally
files stage > out
printf '%s\n' ./opt/tally/bin/other ./opt/tally/share/doc/other/README.md > wanted
same wanted out
holds test ! -e stage/opt/tally/share/doc/ridgetally
in_source uninstall DESTDIR="$PWD/stage" PREFIX=/opt/tally
