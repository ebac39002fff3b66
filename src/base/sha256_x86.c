/* SHA-256 by the instructions that x86 processors have for it ("Intel Architecture Instruction Set Extensions Programming Reference",
 * 2013, chapter 8: SHA256RNDS2, SHA256MSG1, SHA256MSG2): a seventh of the time. Whatever the processor, the other way stays. */
#include "sha256_blocks.h"

#if defined(__x86_64__)

#include <cpuid.h>
#include <immintrin.h>
#include <stdatomic.h>

static bool ask_processor(void)
{
    unsigned a = 0, b = 0, c = 0, d = 0;
    if (__get_cpuid(1, &a, &b, &c, &d) == 0 || (c & bit_SSSE3) == 0 || (c & bit_SSE4_1) == 0)
        return false;
    return __get_cpuid_count(7, 0, &a, &b, &c, &d) != 0 && (b & bit_SHA) != 0;
}

/* Asked once: on a virtual machine the question costs as much as hashing several blocks. */
bool rt_sha256_has_instructions(void)
{
    enum { NOT_ASKED, NO, YES };
    static atomic_int answer = NOT_ASKED;
    int known = atomic_load_explicit(&answer, memory_order_relaxed);
    if (known == NOT_ASKED) {
        known = ask_processor() ? YES : NO;
        atomic_store_explicit(&answer, known, memory_order_relaxed);
    }
    return known == YES;
}

#define WITH_SHA __attribute__((target("sha,sse4.1,ssse3")))

/* The four words after those of w, of which the oldest are at w[group % 4]. */
WITH_SHA static inline __m128i next_words(const __m128i w[4], size_t group)
{
    const __m128i last = w[(group + 3) % 4];
    const __m128i seventh = _mm_alignr_epi8(last, w[(group + 2) % 4], 4);
    const __m128i partial = _mm_sha256msg1_epu32(w[group % 4], w[(group + 1) % 4]);
    return _mm_sha256msg2_epu32(_mm_add_epi32(partial, seventh), last);
}

/* The instructions want the working variables as a b e f and c d g h, the first in the highest place. */
WITH_SHA static void take_block(__m128i *abef, __m128i *cdgh, const unsigned char *block)
{
    const __m128i big_endian = _mm_set_epi64x(0x0c0d0e0f08090a0b, 0x0405060700010203);
    const __m128i abef_before = *abef, cdgh_before = *cdgh;
    __m128i w[4];
    for (size_t i = 0; i < 4; i++)
        w[i] = _mm_shuffle_epi8(_mm_loadu_si128((const __m128i *)(const void *)(block + 16 * i)), big_endian);
#pragma GCC unroll 16
    for (size_t group = 0; group < RT_SHA256_ROUNDS / 4; group++) {
        const void *constants = rt_sha256_constants + 4 * group;
        if (group >= 4)
            w[group % 4] = next_words(w, group);
        const __m128i sum = _mm_add_epi32(w[group % 4], _mm_loadu_si128((const __m128i *)constants));
        *cdgh = _mm_sha256rnds2_epu32(*cdgh, *abef, sum);
        *abef = _mm_sha256rnds2_epu32(*abef, *cdgh, _mm_shuffle_epi32(sum, 0x0e));
    }
    *abef = _mm_add_epi32(*abef, abef_before);
    *cdgh = _mm_add_epi32(*cdgh, cdgh_before);
}

WITH_SHA void rt_sha256_blocks_by_instructions(uint32_t state[8], const unsigned char *blocks, size_t count)
{
    __m128i *halves = (__m128i *)(void *)state;
    const __m128i badc = _mm_shuffle_epi32(_mm_loadu_si128(halves), 0xb1);
    const __m128i hgfe = _mm_shuffle_epi32(_mm_loadu_si128(halves + 1), 0x1b);
    __m128i abef = _mm_alignr_epi8(badc, hgfe, 8);
    __m128i cdgh = _mm_blend_epi16(hgfe, badc, 0xf0);
    for (size_t i = 0; i < count; i++)
        take_block(&abef, &cdgh, blocks + i * RT_SHA256_BLOCK);
    const __m128i feba = _mm_shuffle_epi32(abef, 0x1b);
    const __m128i dchg = _mm_shuffle_epi32(cdgh, 0xb1);
    _mm_storeu_si128(halves, _mm_blend_epi16(feba, dchg, 0xf0));
    _mm_storeu_si128(halves + 1, _mm_alignr_epi8(dchg, feba, 8));
}

#else

bool rt_sha256_has_instructions(void)
{
    return false;
}

void rt_sha256_blocks_by_instructions(uint32_t state[8], const unsigned char *blocks, size_t count)
{
    rt_sha256_blocks_plain(state, blocks, count);
}

#endif
