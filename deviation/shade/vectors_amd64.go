package shade

import "golang.org/x/sys/cpu"

// vector says whether this processor has what the kernels need. Tests turn it off.
var vector = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasPOPCNT
