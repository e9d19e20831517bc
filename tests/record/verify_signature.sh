#!/bin/bash
# Checks the signature of the closing line of one journal, from coach/journal/format.md alone: openssl.
set -eu
here=$(mktemp -d)
trap 'rm -r "$here"' EXIT
closing=$(tail -n 1 "$1")
case $closing in *'"signature":"'*) ;; *) echo "not signed"; exit 1 ;; esac
before=$(tail -n 2 "$1" | head -n 1 | sed 's/.*,"sum":"\([0-9a-f]*\)"}$/\1/')
hex() { printf '%s' "$closing" | sed "s/.*\"$1\":\"\([0-9a-f]*\)\".*/\1/"; }
bytes() { printf "$(printf '%s' "$1" | sed 's/../\\x&/g')"; }
printf '%s%s' "$before" "${closing%',"signature":"'*}" > "$here/message"
# The twelve bytes before an Ed25519 key in DER (RFC 8410).
{ bytes 302a300506032b6570032100; bytes "$(hex public_key)"; } > "$here/key"
bytes "$(hex signature)" > "$here/signature"
openssl pkeyutl -verify -pubin -keyform DER -inkey "$here/key" -rawin \
    -in "$here/message" -sigfile "$here/signature"
