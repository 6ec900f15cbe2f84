#include "textflag.h"

// Where the program begins when it is linked with -ldflags=-E=shutcheck_entry, as make and the packages do: before Go's runtime, which
// reserves more than a gigabyte of addresses and, where a limit leaves less, ends in a dump of its own before any Go code runs.
// Below the floor of floor_linux.go it says so and ends with status 71, as there; a test holds the two together.

DATA shutcheck_first<>+0(SB)/8, $"shutchec"
DATA shutcheck_first<>+8(SB)/8, $"k: addre"
DATA shutcheck_first<>+16(SB)/8, $"sses are"
DATA shutcheck_first<>+24(SB)/8, $" limited"
DATA shutcheck_first<>+32(SB)/4, $" to "
GLOBL shutcheck_first<>(SB), RODATA, $36

DATA shutcheck_rest<>+0(SB)/8, $" MB (uli"
DATA shutcheck_rest<>+8(SB)/8, $"mit -v),"
DATA shutcheck_rest<>+16(SB)/8, $" and it "
DATA shutcheck_rest<>+24(SB)/8, $"does not"
DATA shutcheck_rest<>+32(SB)/8, $" start w"
DATA shutcheck_rest<>+40(SB)/8, $"ith less"
DATA shutcheck_rest<>+48(SB)/8, $" than 20"
DATA shutcheck_rest<>+56(SB)/8, $"00 MB, m"
DATA shutcheck_rest<>+64(SB)/8, $"ost of w"
DATA shutcheck_rest<>+72(SB)/8, $"hich sta"
DATA shutcheck_rest<>+80(SB)/8, $"y unused"
DATA shutcheck_rest<>+88(SB)/8, $": take t"
DATA shutcheck_rest<>+96(SB)/8, $"he limit"
DATA shutcheck_rest<>+104(SB)/8, $" away wi"
DATA shutcheck_rest<>+112(SB)/8, $"th ulimi"
DATA shutcheck_rest<>+120(SB)/8, $"t -v unl"
DATA shutcheck_rest<>+128(SB)/8, $"imited, "
DATA shutcheck_rest<>+136(SB)/8, $"or raise"
DATA shutcheck_rest<>+144(SB)/4, $" it\n"
GLOBL shutcheck_rest<>(SB), RODATA, $148

TEXT shutcheck_entry(SB), NOSPLIT|NOFRAME, $0
	MOVQ SP, R12
	LEAQ -64(SP), R13
	MOVQ $97, AX           // getrlimit
	MOVQ $9, DI            // RLIMIT_AS
	MOVQ R13, SI
	SYSCALL
	TESTQ AX, AX
	JNE  begin
	MOVQ 0(R13), AX        // bytes
	MOVQ $2000000000, CX
	CMPQ AX, CX
	JCC  begin

	// The number, written from its end.
	XORQ DX, DX
	MOVQ $1000000, CX
	DIVQ CX
	LEAQ 40(R13), R14
	MOVQ R14, R15
	MOVQ $10, CX
digit:
	XORQ DX, DX
	DIVQ CX
	ADDB $48, DX
	DECQ R15
	MOVB DX, 0(R15)
	TESTQ AX, AX
	JNE  digit

	MOVQ $1, AX            // write
	MOVQ $2, DI
	LEAQ shutcheck_first<>(SB), SI
	MOVQ $36, DX
	SYSCALL
	MOVQ $1, AX
	MOVQ $2, DI
	MOVQ R15, SI
	MOVQ R14, DX
	SUBQ R15, DX
	SYSCALL
	MOVQ $1, AX
	MOVQ $2, DI
	LEAQ shutcheck_rest<>(SB), SI
	MOVQ $148, DX
	SYSCALL
	MOVQ $231, AX          // exit_group
	MOVQ $71, DI
	SYSCALL

begin:
	MOVQ R12, SP
	XORQ DX, DX
	JMP  _rt0_amd64_linux(SB)
