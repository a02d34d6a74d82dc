# shellcheck shell=bash
# bash completion for setback. The table in here is what `setback --table' prints.

# COMMAND, OPTION (. for the command itself), how often, what may be completed, VALUE, help
_setback_table() {
    cat <<'END'
@TABLE@
END
}

# The instruments in the book $1, or in the usual one.
_setback_instruments() {
    setback book list --json ${1:+--book "$1"} 2>/dev/null |
        sed -n 's/^{.*"name":"\([^"\\]*\)".*/\1/p'
}

# Offers the lines that begin with $1, written so that the shell takes each for one word.
_setback_offer() {
    local line quoted
    while IFS= read -r line; do
        printf -v quoted %q "$line"
        if [[ -n $line && ($line == "$1"* || $quoted == "$1"*) ]]; then COMPREPLY+=("$quoted"); fi
    done
}

# Offers what $1 (words; FILE or INSTRUMENT) stands for and begins with $2; $3 is the book.
_setback_offer_what() {
    local what file
    for what in $1; do
        case $what in
            - | flag) ;;
            FILE)
                compopt -o filenames 2>/dev/null
                while IFS= read -r file; do COMPREPLY+=("$file"); done < <(compgen -f -- "$2")
                ;;
            INSTRUMENT) _setback_offer "$2" < <(_setback_instruments "$3") ;;
            *) _setback_offer "$2" <<<"$what" ;;
        esac
    done
}

_setback() {
    local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]}
    local one=${COMP_WORDS[1]} both="${COMP_WORDS[1]} ${COMP_WORDS[2]-}" i
    local name option takes known='' operand=flag value=flag book='' words=() options=(--help)
    COMPREPLY=()
    # Readline makes words of their own of = and what follows.
    if [[ $current == = ]]; then
        current=
    elif [[ $before == = ]]; then
        before=${COMP_WORDS[COMP_CWORD - 2]}
    fi
    while IFS=$'\t' read -r name option _ takes _; do
        if ((COMP_CWORD == 1)); then
            words+=("${name%% *}")
        elif [[ $name == "$one" ]] || { ((COMP_CWORD > 2)) && [[ $name == "$both" ]]; }; then
            known=yes
            if [[ $option == . ]]; then
                operand=$takes
            else
                options+=("$option")
                if [[ $option == "$before" ]]; then value=$takes; fi
            fi
        elif ((COMP_CWORD == 2)) && [[ $name == "$one "* ]]; then
            words+=("${name#* }")
        fi
    done < <(_setback_table)
    if [[ -z $known ]]; then
        if ((COMP_CWORD == 1)) && [[ $current == -* ]]; then words=(--help --version --man); fi
        _setback_offer "$current" < <(printf '%s\n' "${words[@]}" | sort -u)
    elif [[ $value != flag ]]; then
        _setback_offer_what "$value" "$current"
    elif [[ $current == -* || $operand == flag || $operand == - ]]; then
        _setback_offer "$current" < <(printf '%s\n' "${options[@]}")
    else
        for ((i = 2; i < COMP_CWORD; i++)); do
            if [[ ${COMP_WORDS[i]} == --book ]]; then book=${COMP_WORDS[i + 1]}; fi
        done
        _setback_offer_what "$operand" "$current" "$book"
    fi
}

complete -F _setback setback
