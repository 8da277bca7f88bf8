//! Masks that choose lanes, and population counts of each. Only code that runs after the processor
//! was found to have the features uses this: that is what makes every `unsafe` below sound.
#![allow(unsafe_code)]

use std::arch::x86_64::{
    _mm256_cmpneq_epi16_mask, _mm256_loadu_si256, _mm256_maskz_compress_epi16,
    _mm256_maskz_set1_epi16, _mm256_or_si256, _mm256_setzero_si256, _mm256_storeu_si256,
    _mm512_add_epi16, _mm512_cmpeq_epi16_mask, _mm512_loadu_si512, _mm512_maskz_set1_epi16,
    _mm512_or_si512, _mm512_popcnt_epi16, _mm512_set1_epi16, _mm512_setzero_si512,
};

use super::avx2::{Register, houses_of};
use super::lanes::{
    HouseMasks, Instructions, Planes, SIZES, sets_of_present_cells, union_past_five,
};

/// AVX-512 with population counts of 16-bit lanes.
pub(super) struct Avx512;

impl Instructions for Avx512 {
    /// The compiler makes three operations of two or three into one.
    type Words = Register;

    #[inline(always)]
    fn by_house(planes: &Planes) -> HouseMasks {
        // Safety: the features are there.
        let mut rows = unsafe { [_mm256_setzero_si256(); 9] };
        for (row, masks) in rows.iter_mut().enumerate() {
            for (digit, plane) in planes.iter().enumerate() {
                let cells = (plane[row / 3] >> (9 * (row % 3))) as u16 & 0x1ff;
                // Safety: the features are there.
                *masks =
                    unsafe { _mm256_or_si256(*masks, _mm256_maskz_set1_epi16(cells, 1 << digit)) };
            }
        }
        houses_of(&rows)
    }

    #[inline(always)]
    fn compress(masks: &[u16; 16], front: &mut [u16; 16]) -> u16 {
        // Safety: the features are there; both arrays are 32 bytes.
        unsafe {
            let masks = _mm256_loadu_si256(masks.as_ptr().cast());
            let open = _mm256_cmpneq_epi16_mask(masks, _mm256_setzero_si256()) & 0x1ff;
            let moved = _mm256_maskz_compress_epi16(open, masks);
            _mm256_storeu_si256(front.as_mut_ptr().cast(), moved);
            open
        }
    }

    #[inline(always)]
    fn tight_sets(candidates: &[u16; 16], open: usize, tight: &mut [u32; 16]) -> u32 {
        // Bit i is on where the set with number i names the cell.
        const NAMES: [u32; 5] = [0xaaaa_aaaa, 0xcccc_cccc, 0xf0f0_f0f0, 0xff00_ff00, 0xffff_0000];
        let mut count = 0;
        // Safety: the features are there; the sizes are 64 bytes.
        unsafe {
            let sizes = _mm512_loadu_si512(SIZES.as_ptr().cast());
            let mut low = _mm512_setzero_si512();
            for (names, &mask) in NAMES.iter().zip(candidates) {
                let named = _mm512_maskz_set1_epi16(*names, mask.cast_signed());
                low = _mm512_or_si512(low, named);
            }
            for (high, tight) in tight[..1usize << open.saturating_sub(5)].iter_mut().enumerate() {
                let union = union_past_five(candidates, high).cast_signed();
                let digits = _mm512_popcnt_epi16(_mm512_or_si512(low, _mm512_set1_epi16(union)));
                let high_size = _mm512_set1_epi16(high.count_ones() as i16);
                let bits = _mm512_cmpeq_epi16_mask(digits, _mm512_add_epi16(sizes, high_size));
                *tight = bits & sets_of_present_cells(open);
                count += tight.count_ones();
            }
        }
        count
    }
}
