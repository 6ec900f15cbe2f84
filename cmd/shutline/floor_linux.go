package main

/*
#include <stdio.h>
#include <sys/resource.h>
#include <unistd.h>

// Addresses, MB: the window was seen to need 2.5 to 3 GB with a small job, most of which stay unused: Go's runtime reserves 1.3 GB, each
// thread has a stack of 8 MB, and the driver's libraries are large.
#define LEAST_MB 3200

// This runs before Go's runtime, which ends in a dump of its own where a limit leaves it too little.
__attribute__((constructor)) static void few_addresses(void) {
	struct rlimit limit;
	if (getrlimit(RLIMIT_AS, &limit) != 0 || limit.rlim_cur == RLIM_INFINITY || limit.rlim_cur / 1000000 >= LEAST_MB)
		return;
	dprintf(2, "shutline: addresses are limited to %llu MB (ulimit -v), and the window does not open with less than %d MB, most of which stay unused: "
		"take the limit away with ulimit -v unlimited, or raise it; shutcheck inspect FILE.toml --out DIR needs 2000 MB\n",
		(unsigned long long)limit.rlim_cur / 1000000, LEAST_MB);
	_exit(71); // EX_OSERR of sysexits.h
}
*/
import "C"
