#!/bin/sh
# The same bridge in the shell's own language, without any other program: the answers are INVENTED.
while read -r question; do
    id=${question#*\"id\":}; id=${id%%[,\}]*}
    time=${question#*\"integration_s\":}; time=${time%%[,\}]*}
    case $question in
        *'"op":"identify"'*) answer='"model":"INVENTED-SHELL","serial_number":"S-1","firmware":"1","simulated":true' ;;
        *'"op":"read"'*) answer="\"X\":95.047,\"Y\":100.0,\"Z\":108.883,\"status\":\"ok\",\"integration_s\":$time" ;;
        *) answer='"error":"this bridge knows identify and read only"' ;;
    esac
    printf '{"id":%s,%s}\n' "$id" "$answer"
done
