//! Sixteen lanes in one register.
#![allow(unsafe_code)]

use std::arch::x86_64::{
    __m256i, _mm_cmpeq_epi16, _mm_loadu_si128, _mm_movemask_epi8, _mm_packs_epi16,
    _mm_setzero_si128, _mm_shuffle_epi8, _mm_storeu_si128, _mm256_add_epi8, _mm256_add_epi16,
    _mm256_and_si256, _mm256_andnot_si256, _mm256_castsi256_si128, _mm256_cmpeq_epi8,
    _mm256_cmpeq_epi16, _mm256_extracti128_si256, _mm256_load_si256, _mm256_loadu_si256,
    _mm256_movemask_epi8, _mm256_or_si256, _mm256_set1_epi8, _mm256_set1_epi16,
    _mm256_setzero_si256, _mm256_shuffle_epi8, _mm256_slli_epi16, _mm256_srli_epi16,
    _mm256_store_si256, _mm256_storeu_si256, _mm256_sub_epi8, _mm256_sub_epi16,
};

use super::lanes::{
    CellMasks, Instructions, LaneSet, Lanes, Words, sets_of_present_cells, union_past_five,
};

/// Nine bits of each puzzle, in a register. Only code that runs after the processor was found to have
/// AVX2 uses this type: that is what makes every `unsafe` below sound.
#[derive(Clone, Copy)]
pub(super) struct Register(__m256i);

/// AVX2 with bit manipulation.
pub(super) struct Avx2;

/// Byte i is full where bit b of i is on.
const NAMES: [[u8; 32]; 5] = {
    let mut table = [[0; 32]; 5];
    let mut bit = 0;
    while bit < 5 {
        let mut set = 0;
        while set < 32 {
            if set >> bit & 1 == 1 {
                table[bit][set] = u8::MAX;
            }
            set += 1;
        }
        bit += 1;
    }
    table
};

/// Byte i is the number of bits that are on in i.
const SIZES: [u8; 32] = {
    let mut table = [0; 32];
    let mut set: usize = 0;
    while set < 32 {
        table[set] = set.count_ones() as u8;
        set += 1;
    }
    table
};

/// The number of bits that are on in a half byte, once for each half of a register.
const HALF_BYTE_SIZES: [u8; 32] = {
    let mut table = [0; 32];
    let mut set: usize = 0;
    while set < 32 {
        table[set] = (set % 16).count_ones() as u8;
        set += 1;
    }
    table
};

/// Lane i holds the bit i.
const BITS: [u16; 16] = {
    let mut table = [0; 16];
    let mut bit = 0;
    while bit < 16 {
        table[bit] = 1 << bit;
        bit += 1;
    }
    table
};

/// For each choice of eight masks the bytes that move them to the front; the rest is cleared.
static TO_FRONT: [[u8; 16]; 256] = {
    let mut table = [[0x80; 16]; 256];
    let mut chosen = 0;
    while chosen < 256 {
        let (mut mask, mut front) = (0, 0);
        while mask < 8 {
            if chosen >> mask & 1 == 1 {
                table[chosen][2 * front] = 2 * mask as u8;
                table[chosen][2 * front + 1] = 2 * mask as u8 + 1;
                front += 1;
            }
            mask += 1;
        }
        chosen += 1;
    }
    table
};

/// All ones if the mask has the ninth digit.
const fn ninth(mask: u16) -> i8 {
    -((mask >> 8 & 1) as i8)
}

impl Words for Register {
    #[inline(always)]
    fn load(lanes: &Lanes) -> Self {
        // Safety: the features are there; `Lanes` is 32 bytes, aligned to 32.
        Self(unsafe { _mm256_load_si256(lanes.0.as_ptr().cast()) })
    }

    #[inline(always)]
    fn store(self, lanes: &mut Lanes) {
        // Safety: as in `load`.
        unsafe { _mm256_store_si256(lanes.0.as_mut_ptr().cast(), self.0) }
    }

    #[inline(always)]
    fn splat(word: u16) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_set1_epi16(word.cast_signed()) })
    }

    #[inline(always)]
    fn and(self, other: Self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_and_si256(self.0, other.0) })
    }

    #[inline(always)]
    fn or(self, other: Self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_or_si256(self.0, other.0) })
    }

    #[inline(always)]
    fn and_not(self, other: Self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_andnot_si256(other.0, self.0) })
    }

    #[inline(always)]
    fn add(self, other: Self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_add_epi16(self.0, other.0) })
    }

    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_sub_epi16(self.0, other.0) })
    }

    #[inline(always)]
    fn shl<const BY: i32>(self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_slli_epi16::<BY>(self.0) })
    }

    #[inline(always)]
    fn shr<const BY: i32>(self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_srli_epi16::<BY>(self.0) })
    }

    #[inline(always)]
    fn is_zero(self) -> Self {
        // Safety: the features are there.
        Self(unsafe { _mm256_cmpeq_epi16(self.0, _mm256_setzero_si256()) })
    }

    #[inline(always)]
    fn zero_lanes(self) -> LaneSet {
        // Safety: the features are there.
        unsafe {
            let is_zero = self.is_zero().0;
            let (low, high) =
                (_mm256_castsi256_si128(is_zero), _mm256_extracti128_si256::<1>(is_zero));
            _mm_movemask_epi8(_mm_packs_epi16(low, high)) as LaneSet
        }
    }
}

impl Instructions for Avx2 {
    type Words = Register;

    #[inline(always)]
    fn cell_masks(planes: &[[u32; 3]; 9]) -> CellMasks {
        let mut masks = [0; 96];
        for half in 0..6 {
            let (band, shift) = (half / 2, half % 2 * 16);
            // Safety: the features are there; each store fills 16 of the 96 masks.
            unsafe {
                let bits = _mm256_loadu_si256(BITS.as_ptr().cast());
                let mut of_half = _mm256_setzero_si256();
                for (digit, plane) in planes.iter().enumerate() {
                    let word = _mm256_set1_epi16(((plane[band] >> shift) as u16).cast_signed());
                    let is_on = _mm256_cmpeq_epi16(_mm256_and_si256(word, bits), bits);
                    let of_digit = _mm256_and_si256(is_on, _mm256_set1_epi16(1 << digit));
                    of_half = _mm256_or_si256(of_half, of_digit);
                }
                _mm256_storeu_si256(masks[half * 16..][..16].as_mut_ptr().cast(), of_half);
            }
        }
        masks
    }

    #[inline(always)]
    fn compress(masks: &[u16; 16], front: &mut [u16; 16]) -> u16 {
        front[8..].fill(0);
        // Safety: the features are there; eight masks are 16 bytes.
        let first = unsafe {
            let masks = _mm_loadu_si128(masks.as_ptr().cast());
            let is_zero = _mm_cmpeq_epi16(masks, _mm_setzero_si128());
            let fixed = _mm_movemask_epi8(_mm_packs_epi16(is_zero, is_zero));
            let open = !fixed & 0xff;
            let to_front = _mm_loadu_si128(TO_FRONT[open as usize].as_ptr().cast());
            _mm_storeu_si128(front.as_mut_ptr().cast(), _mm_shuffle_epi8(masks, to_front));
            open as u16
        };
        front[first.count_ones() as usize] = masks[8];
        first | u16::from(masks[8] != 0) << 8
    }

    #[inline(always)]
    fn tight_sets(candidates: &[u16; 16], open: usize, tight: &mut [u32; 16]) -> u32 {
        let mut count = 0;
        // Safety: the features are there; all tables are 32 bytes.
        unsafe {
            // Eight digits of the unions, and the ninth as full bytes.
            let (mut low, mut low_ninth) = (_mm256_setzero_si256(), _mm256_setzero_si256());
            for (names, &mask) in NAMES.iter().zip(candidates) {
                let names = _mm256_loadu_si256(names.as_ptr().cast());
                let eight = _mm256_set1_epi8((mask as u8).cast_signed());
                low = _mm256_or_si256(low, _mm256_and_si256(names, eight));
                let ninth = _mm256_set1_epi8(ninth(mask));
                low_ninth = _mm256_or_si256(low_ninth, _mm256_and_si256(names, ninth));
            }
            let sizes = _mm256_loadu_si256(SIZES.as_ptr().cast());
            let half_byte_sizes = _mm256_loadu_si256(HALF_BYTE_SIZES.as_ptr().cast());
            let half_byte = _mm256_set1_epi8(0xf);
            for (high, tight) in tight[..1usize << open.saturating_sub(5)].iter_mut().enumerate() {
                let union = union_past_five(candidates, high);
                let eight = _mm256_or_si256(low, _mm256_set1_epi8((union as u8).cast_signed()));
                let ninth = _mm256_or_si256(low_ninth, _mm256_set1_epi8(ninth(union)));
                let right = _mm256_and_si256(eight, half_byte);
                let left = _mm256_and_si256(_mm256_srli_epi16::<4>(eight), half_byte);
                let digits = _mm256_add_epi8(
                    _mm256_shuffle_epi8(half_byte_sizes, right),
                    _mm256_shuffle_epi8(half_byte_sizes, left),
                );
                let digits = _mm256_sub_epi8(digits, ninth);
                let size = _mm256_add_epi8(sizes, _mm256_set1_epi8(high.count_ones() as i8));
                let bits = _mm256_movemask_epi8(_mm256_cmpeq_epi8(digits, size));
                *tight = bits.cast_unsigned() & sets_of_present_cells(open);
                count += tight.count_ones();
            }
        }
        count
    }
}
