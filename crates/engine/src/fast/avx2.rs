//! Sixteen lanes in one register.
#![allow(unsafe_code)]

use std::arch::x86_64::{
    __m128i, __m256i, _mm_alignr_epi8, _mm_blend_epi16, _mm_cmpeq_epi16, _mm_cvtsi32_si128,
    _mm_cvtsi128_si32, _mm_loadu_si128, _mm_movemask_epi8, _mm_or_si128, _mm_packs_epi16,
    _mm_packus_epi16, _mm_setzero_si128, _mm_shuffle_epi8, _mm_shuffle_epi32, _mm_slli_si128,
    _mm_srli_epi32, _mm_srli_si128, _mm_storeu_si128, _mm_unpackhi_epi16, _mm_unpackhi_epi32,
    _mm_unpackhi_epi64, _mm_unpacklo_epi16, _mm_unpacklo_epi32, _mm_unpacklo_epi64,
    _mm256_add_epi8, _mm256_add_epi16, _mm256_and_si256, _mm256_andnot_si256,
    _mm256_castsi256_si128, _mm256_cmpeq_epi8, _mm256_cmpeq_epi16, _mm256_extracti128_si256,
    _mm256_load_si256, _mm256_loadu_si256, _mm256_movemask_epi8, _mm256_or_si256, _mm256_set1_epi8,
    _mm256_set1_epi16, _mm256_setzero_si256, _mm256_shuffle_epi8, _mm256_sll_epi16,
    _mm256_slli_epi16, _mm256_srli_epi16, _mm256_store_si256, _mm256_storeu_si256, _mm256_sub_epi8,
    _mm256_sub_epi16, _mm256_zextsi128_si256,
};

use tallyhouse_board::House;

use super::lanes::{
    HouseMasks, Instructions, LaneSet, Lanes, Planes, Words, sets_of_present_cells,
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

/// Lane i holds bit i, or a bit or two past it.
const BITS: [[u16; 16]; 3] = {
    let mut table = [[0; 16]; 3];
    let mut lane = 0;
    while lane < 9 {
        table[0][lane] = 1 << lane;
        table[1][lane] = 2 << lane;
        table[2][lane] = 4 << lane;
        lane += 1;
    }
    table
};

/// Lane i of row i is full.
static ONLY: [[u16; 16]; 16] = {
    let mut table = [[0; 16]; 16];
    let mut lane = 0;
    while lane < 16 {
        table[lane][lane] = u16::MAX;
        lane += 1;
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
    fn by_house(planes: &Planes) -> HouseMasks {
        // Safety: the features are there.
        let mut rows = unsafe { [_mm256_setzero_si256(); 9] };
        for (row, masks) in rows.iter_mut().enumerate() {
            let (band, row) = (row / 3, row % 3);
            // Safety: the features are there; sixteen bits are 32 bytes.
            unsafe {
                // The second row begins one bit past the second byte, the third two past the third.
                let bits = _mm256_loadu_si256(BITS[row].as_ptr().cast());
                for (digit, plane) in planes.iter().enumerate() {
                    let word = _mm256_set1_epi16(((plane[band] >> (8 * row)) as u16).cast_signed());
                    let is_on = _mm256_cmpeq_epi16(_mm256_and_si256(word, bits), bits);
                    let of_digit = _mm256_and_si256(is_on, _mm256_set1_epi16(1 << digit));
                    *masks = _mm256_or_si256(*masks, of_digit);
                }
            }
        }
        houses_of(&rows)
    }

    #[inline(always)]
    fn compress(masks: &[u16; 16], front: &mut [u16; 16]) -> u16 {
        // Safety: the features are there; eight masks are 16 bytes, and sixteen 32.
        let first = unsafe {
            let eight = _mm_loadu_si128(masks.as_ptr().cast());
            let is_zero = _mm_cmpeq_epi16(eight, _mm_setzero_si128());
            let fixed = _mm_movemask_epi8(_mm_packs_epi16(is_zero, is_zero));
            let open = !fixed & 0xff;
            let to_front = _mm_loadu_si128(TO_FRONT[open as usize].as_ptr().cast());
            let eight = _mm256_zextsi128_si256(_mm_shuffle_epi8(eight, to_front));
            let behind = _mm256_loadu_si256(ONLY[open.count_ones() as usize].as_ptr().cast());
            let ninth = _mm256_and_si256(_mm256_set1_epi16(masks[8].cast_signed()), behind);
            // All at once: a vector can't be loaded as long as its parts are being stored.
            let all = _mm256_or_si256(eight, ninth);
            _mm256_storeu_si256(front.as_mut_ptr().cast(), all);
            open as u16
        };
        first | u16::from(masks[8] != 0) << 8
    }

    #[inline(always)]
    fn tight_sets(candidates: &[u16; 16], open: usize, tight: &mut [u32; 16]) -> u32 {
        let mut bytes = [0u8; 16];
        // Safety: the features are there; sixteen masks are 32 bytes.
        let union = unsafe {
            let masks = _mm256_loadu_si256(candidates.as_ptr().cast());
            let union = union_of_nine(masks);
            let mut eight = _mm256_and_si256(masks, _mm256_set1_epi16(0xff));
            if union.count_ones() <= 8 {
                // The ninth digit takes the bit of one that is missing.
                let missing = _mm_cvtsi32_si128(union.trailing_ones().cast_signed());
                let ninth = _mm256_srli_epi16::<8>(masks);
                eight = _mm256_or_si256(eight, _mm256_sll_epi16(ninth, missing));
            }
            let high = _mm256_extracti128_si256::<1>(eight);
            let packed = _mm_packus_epi16(_mm256_castsi256_si128(eight), high);
            _mm_storeu_si128(bytes.as_mut_ptr().cast(), packed);
            union
        };
        if union.count_ones() <= 8 {
            tight_sets_of::<false>(&bytes, candidates, open, tight)
        } else {
            tight_sets_of::<true>(&bytes, candidates, open, tight)
        }
    }
}

/// Collects the masks of each house from those of the rows.
#[inline(always)]
pub(super) fn houses_of(rows: &[__m256i; 9]) -> HouseMasks {
    let mut houses = [[0; 16]; House::COUNT];
    // Safety: the features are there; eight masks are 16 bytes, and sixteen 32.
    unsafe {
        let mut eights = [_mm_setzero_si128(); 9];
        // The rows from their first, fourth and seventh column on.
        let mut thirds = [eights; 3];
        for (row, masks) in rows.iter().enumerate() {
            _mm256_storeu_si256(houses[row].as_mut_ptr().cast(), *masks);
            eights[row] = _mm256_castsi256_si128(*masks);
            let last = _mm256_extracti128_si256::<1>(*masks);
            thirds[0][row] = eights[row];
            thirds[1][row] = _mm_srli_si128::<6>(eights[row]);
            thirds[2][row] = _mm_alignr_epi8::<12>(last, eights[row]);
        }
        let columns = turned(&eights);
        for (column, eight) in columns.into_iter().enumerate() {
            _mm_storeu_si128(houses[9 + column].as_mut_ptr().cast(), eight);
            houses[9 + column][8] = houses[8][column];
        }
        let last: [u16; 9] = std::array::from_fn(|row| houses[row][8]);
        houses[17][..9].copy_from_slice(&last);
        for number in 0..9 {
            let (first, third) = (number / 3 * 3, &thirds[number % 3]);
            let six = _mm_slli_si128::<6>(third[first + 1]);
            let six = _mm_blend_epi16::<0b0011_1000>(third[first], six);
            let last = _mm_slli_si128::<12>(third[first + 2]);
            let eight = _mm_blend_epi16::<0b1100_0000>(six, last);
            _mm_storeu_si128(houses[18 + number].as_mut_ptr().cast(), eight);
            houses[18 + number][8] = houses[first + 2][number % 3 * 3 + 2];
        }
    }
    houses
}

/// Returns the first eight columns of the first eight rows.
#[inline(always)]
fn turned(rows: &[__m128i; 9]) -> [__m128i; 8] {
    let mut pairs = [rows[0]; 8];
    let mut fours = [rows[0]; 8];
    let mut columns = [rows[0]; 8];
    // Safety: the features are there.
    unsafe {
        for pair in 0..4 {
            pairs[pair] = _mm_unpacklo_epi16(rows[2 * pair], rows[2 * pair + 1]);
            pairs[pair + 4] = _mm_unpackhi_epi16(rows[2 * pair], rows[2 * pair + 1]);
        }
        for four in 0..4 {
            fours[2 * four] = _mm_unpacklo_epi32(pairs[2 * four], pairs[2 * four + 1]);
            fours[2 * four + 1] = _mm_unpackhi_epi32(pairs[2 * four], pairs[2 * four + 1]);
        }
        for (half, first) in [0, 4].into_iter().enumerate() {
            for two in 0..2 {
                let (upper, lower) = (fours[first + two], fours[first + two + 2]);
                columns[4 * half + 2 * two] = _mm_unpacklo_epi64(upper, lower);
                columns[4 * half + 2 * two + 1] = _mm_unpackhi_epi64(upper, lower);
            }
        }
    }
    columns
}

/// Returns the union of the first nine masks, behind which there are zeros.
#[inline(always)]
fn union_of_nine(masks: __m256i) -> u16 {
    // Safety: the features are there.
    unsafe {
        let low = _mm256_castsi256_si128(masks);
        let eight = _mm_or_si128(low, _mm256_extracti128_si256::<1>(masks));
        let four = _mm_or_si128(eight, _mm_shuffle_epi32::<0b01_00_11_10>(eight));
        let two = _mm_or_si128(four, _mm_shuffle_epi32::<0b10_11_00_01>(four));
        _mm_cvtsi128_si32(_mm_or_si128(two, _mm_srli_epi32::<16>(two))) as u16
    }
}

/// Finds the tight sets from eight digits of each cell, and if there are nine from the ninth of
/// `candidates`.
#[inline(always)]
fn tight_sets_of<const NINE: bool>(
    eight: &[u8; 16],
    candidates: &[u16; 16],
    open: usize,
    tight: &mut [u32; 16],
) -> u32 {
    let mut count = 0;
    let mut unions = [(0u8, 0i8); 16];
    // Safety: the features are there; all tables are 32 bytes.
    unsafe {
        // The unions of the first five cells, and the ninth digit of each as full bytes.
        let (mut low, mut low_ninth) = (_mm256_setzero_si256(), _mm256_setzero_si256());
        for (cell, names) in NAMES.iter().enumerate() {
            let names = _mm256_loadu_si256(names.as_ptr().cast());
            let digits = _mm256_set1_epi8(eight[cell].cast_signed());
            low = _mm256_or_si256(low, _mm256_and_si256(names, digits));
            if NINE {
                let ninth = _mm256_set1_epi8(ninth(candidates[cell]));
                low_ninth = _mm256_or_si256(low_ninth, _mm256_and_si256(names, ninth));
            }
        }
        let sizes = _mm256_loadu_si256(SIZES.as_ptr().cast());
        let half_byte_sizes = _mm256_loadu_si256(HALF_BYTE_SIZES.as_ptr().cast());
        let half_byte = _mm256_set1_epi8(0xf);
        for (high, tight) in tight[..1usize << open.saturating_sub(5)].iter_mut().enumerate() {
            if high > 0 {
                let (others, cell) =
                    (unions[high & (high - 1)], 5 + high.trailing_zeros() as usize);
                unions[high] = (others.0 | eight[cell], others.1 | ninth(candidates[cell]));
            }
            let union = _mm256_or_si256(low, _mm256_set1_epi8(unions[high].0.cast_signed()));
            let right = _mm256_and_si256(union, half_byte);
            let left = _mm256_and_si256(_mm256_srli_epi16::<4>(union), half_byte);
            let mut digits = _mm256_add_epi8(
                _mm256_shuffle_epi8(half_byte_sizes, right),
                _mm256_shuffle_epi8(half_byte_sizes, left),
            );
            if NINE {
                let ninth = _mm256_or_si256(low_ninth, _mm256_set1_epi8(unions[high].1));
                digits = _mm256_sub_epi8(digits, ninth);
            }
            let size = _mm256_add_epi8(sizes, _mm256_set1_epi8(high.count_ones() as i8));
            let bits = _mm256_movemask_epi8(_mm256_cmpeq_epi8(digits, size));
            *tight = bits.cast_unsigned() & sets_of_present_cells(open);
            count += tight.count_ones();
        }
    }
    count
}
