/* Test rig only, never shipped. Rust's standard library takes random numbers from ProcessPrng, which every Windows since
   10 has in bcryptprimitives.dll; Wine 8 has no such library. */
#include <windows.h>

BOOLEAN NTAPI SystemFunction036(PVOID, ULONG); /* RtlGenRandom */

__declspec(dllexport) BOOL WINAPI ProcessPrng(PBYTE bytes, SIZE_T length)
{
    while (length) {
        ULONG part = length > 0x10000000 ? 0x10000000 : (ULONG)length;
        if (!SystemFunction036(bytes, part))
            return FALSE;
        bytes += part;
        length -= part;
    }
    return TRUE;
}
