# Completion of ridgetally for bash. Verbs, options and the words an option takes are read from the program's own --help,
# so that they are those of the program that is called.

# What follows an option in a help text: FILE, MAP, SHEET, DIR, a list as csv|json, another word; nothing for a flag.
_ridgetally_value() {
    sed -n -e "/$1 [A-Za-z0-9]/{s/.*$1 \([A-Za-z0-9][A-Za-z0-9.|-]*\).*/\1/p;q;}" <<< "$2"
}

_ridgetally() {
    local program=${COMP_WORDS[0]/#\~/$HOME} verb=${COMP_WORDS[1]-} word=${COMP_WORDS[COMP_CWORD]}
    local before=${COMP_WORDS[COMP_CWORD - 1]} help value='' words=''
    COMPREPLY=()
    # bash splits --option=value into three words
    if [[ $word == = ]]; then
        word=
    elif [[ $before == = && $COMP_CWORD -gt 2 ]]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    if [[ $COMP_CWORD -eq 1 ]]; then
        words=$("$program" --help 2> /dev/null | sed -n 's/^  \([a-z][a-z-]*\) .*/\1/p')
        COMPREPLY=($(compgen -W "$words --help --version" -- "$word"))
        return
    fi
    if [[ $verb == reckon && $COMP_CWORD -gt 2 ]]; then
        help=$("$program" reckon "${COMP_WORDS[2]}" --help 2> /dev/null)
    else
        help=$("$program" "$verb" --help 2> /dev/null)
    fi
    if [[ $before =~ ^--[a-z-]+$ ]]; then # it goes into a pattern of sed
        value=$(_ridgetally_value "$before" "$help")
    fi
    case $value in
    FILE | MAP | SHEET) mapfile -t COMPREPLY < <(compgen -f -- "$word") && compopt -o filenames 2> /dev/null ;;
    DIR) mapfile -t COMPREPLY < <(compgen -d -- "$word") && compopt -o filenames 2> /dev/null ;;
    *..*) ;;
    *\|*) COMPREPLY=($(compgen -W "${value//|/ }" -- "$word")) ;;
    ?*) ;;
    *)
        words=--help' '$(grep -o -e '--[a-z][a-z-]*' <<< "$help" | sort -u)
        if [[ $verb == reckon && $COMP_CWORD -eq 2 ]]; then
            words=--help' '$(sed -n 's/^  \([a-z][a-z-]*\) .*/\1/p' <<< "$help")
        elif [[ $verb == setting && $word != -* ]]; then
            words=$(grep -o '[a-z][a-z]*_[a-z_]*' <<< "$help")
        elif [[ $word != -* && ($verb == reckon || $help == *"Usage: ridgetally $verb FILE"*) ]]; then
            mapfile -t COMPREPLY < <(compgen -f -- "$word") && compopt -o filenames 2> /dev/null
            return
        fi
        COMPREPLY=($(compgen -W "$words" -- "$word"))
        ;;
    esac
}

complete -F _ridgetally ridgetally
