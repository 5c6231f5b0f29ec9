# The deepest stack of a disassembled image (objdump -d --no-show-raw-insn), in bytes.
#
# A function's frame is all that it pushes and subtracts, its depth that and the deepest of what
# it calls or jumps to. On top of the program come one interrupt of the only priority in use, and
# a fault on top of that, each with the frame that the core stacks. What cannot be followed (a call
# through a register, a recursion, a stack pointer from a register) is an error, not a guess.

function fail(text) { print "stack: " text > "/dev/stderr"; failed = 1; exit 1 }

function registers(list,    parts, n, i, ends, sum) {
    gsub(/[{} ]/, "", list)
    n = split(list, parts, ",")
    for (i = 1; i <= n; i++)
        if (split(parts[i], ends, "-") == 2)
            sum += substr(ends[2], 2) - substr(ends[1], 2) + 1
        else
            sum++
    return sum
}

function hexadecimal(text,    value, i) {
    text = tolower(text)
    for (i = 1; i <= length(text); i++)
        value = value * 16 + index("0123456789abcdef", substr(text, i, 1)) - 1
    return value
}

/^[0-9a-f]+ <.*>:$/ { name = $2; gsub(/[<>:]/, "", name); known[name] = 1; next }
name == "" { next }

{ code = $2; arguments = $0; sub(/^[^\t]*\t[^\t]*\t/, "", arguments); sub(/[@;].*/, "", arguments) }

code ~ /^push/ { frame[name] += 4 * registers(arguments) }
code ~ /^v?stmdb/ && arguments ~ /^sp!/ || code ~ /^vpush/ {
    list = arguments
    sub(/^sp!, */, "", list)
    frame[name] += (list ~ /d[0-9]/ ? 8 : 4) * registers(list)
}
code ~ /^v?str/ && match(arguments, /\[sp, #-[0-9]+\]!/) {
    frame[name] += substr(arguments, RSTART + 6, RLENGTH - 8)
}
code ~ /^sub/ && arguments ~ /^sp,/ {
    if (match(arguments, /#[0-9]+/) == 0) fail(name " moves the stack pointer by a register")
    frame[name] += substr(arguments, RSTART + 1, RLENGTH - 1)
}
code ~ /^blx/ && arguments ~ /^(r[0-9]+|ip|sl|fp|lr)/ { fail(name " calls through a register") }
code ~ /^bx/ && arguments !~ /^lr/ { fail(name " jumps through a register") }
code ~ /^(b|bl|cbz|cbnz)[a-z]*(\.[nw])?$/ && match($0, /<[^>+]+>/) {
    callee = substr($0, RSTART + 1, RLENGTH - 2)
    if (callee != name) calls[name] = calls[name] " " callee
}

function depth(function_name,    list, n, i, deepest, below) {
    if (function_name in done) return done[function_name]
    if (function_name in open_now) fail(function_name " calls itself")
    if (!(function_name in known)) fail(function_name " is not there")
    open_now[function_name] = 1
    n = split(calls[function_name], list, " ")
    for (i = 1; i <= n; i++) {
        below = depth(list[i])
        if (below > deepest) deepest = below
    }
    delete open_now[function_name]
    return done[function_name] = frame[function_name] + deepest
}

function largest(names,    list, n, i, most) {
    n = split(names, list, " ")
    for (i = 1; i <= n; i++) if (depth(list[i]) > most) most = depth(list[i])
    return most
}

END {
    if (failed) exit 1
    stacked = 104 + 4 # with the floating-point registers, and aligned (ARM DDI 0403)
    program = depth("Reset")
    interrupt = stacked + largest("ADC EXTI15_10 PVD DefaultHandler")
    fault = 2 * stacked + depth("NonMaskableInt") + depth("HardFault")
    print program + interrupt + fault
}
