//! Huffman tables (ITU-T T.81, Annex C and F.2.2.3), laid out so that one look tells as much as the bits it sees hold.

/// A look sees this many bits.
pub(super) const LOOK: u32 = 10;

/// One row of a look-up table. Of a code that fits, and whose magnitude bits fit too, it holds the value; of a code that
/// alone fits, its symbol; else nothing.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Seen(u32);

impl Seen {
    /// `taken` bits hold code and magnitude; `value` is what they say; `run` zeros stand before it.
    fn value(taken: u32, run: u32, value: i16) -> Self {
        Self((u32::from(value.cast_unsigned()) << 16) | (run << 8) | (1 << 7) | taken)
    }

    /// `taken` bits hold the code of `symbol`.
    fn symbol(taken: u32, symbol: u8) -> Self {
        Self((u32::from(symbol) << 8) | taken)
    }

    /// Whether the value is here.
    #[inline(always)]
    pub(super) fn is_value(self) -> bool {
        self.0 & (1 << 7) != 0
    }

    /// Whether at least the symbol is here.
    #[inline(always)]
    pub(super) fn is_symbol(self) -> bool {
        self.0 != 0
    }

    /// How many bits are taken.
    #[inline(always)]
    pub(super) fn taken(self) -> u32 {
        self.0 & 31
    }

    /// Zeros before the value.
    #[inline(always)]
    pub(super) fn run(self) -> usize {
        ((self.0 >> 8) & 15) as usize
    }

    /// The value.
    #[inline(always)]
    pub(super) fn of(self) -> i16 {
        ((self.0 >> 16) as u16).cast_signed()
    }

    /// Run and size (AC) or size (DC).
    #[inline(always)]
    pub(super) fn run_and_size(self) -> u8 {
        (self.0 >> 8) as u8
    }
}

/// What a table decodes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Class {
    /// Sizes of differences (F.1.2.1).
    Dc,
    /// Runs and sizes (F.1.2.2).
    Ac,
}

/// A table ready for decoding.
#[derive(Debug, Clone)]
pub(super) struct Table {
    look: Box<[Seen; 1 << LOOK]>,
    /// By length of code, 1 to 16: one more than the last code of that length, with 16 bits; 0 where there is none.
    end: [u32; 17],
    /// By length of code: place of its first symbol less its first code.
    offset: [i32; 17],
    symbols: Vec<u8>,
}

impl Table {
    /// Of the numbers of codes of 1 to 16 bits, and the symbols in their order (C.2). None where that is no code, or where
    /// a code is all ones, or a size is above 15.
    pub(super) fn new(class: Class, counts: [u8; 16], symbols: &[u8]) -> Option<Self> {
        if class == Class::Dc && symbols.iter().any(|size| *size > 15) {
            return None;
        }
        let mut table = Self {
            look: vec![Seen::default(); 1 << LOOK].into_boxed_slice().try_into().ok()?,
            end: [0; 17],
            offset: [0; 17],
            symbols: symbols.to_vec(),
        };
        let (mut code, mut place) = (0_u32, 0_usize);
        for (length, count) in (1_u32..).zip(counts) {
            table.offset[length as usize] = i32::try_from(place).ok()? - i32::try_from(code).ok()?;
            for _ in 0..count {
                table.see(class, code, length, *symbols.get(place)?);
                code += 1;
                place += 1;
            }
            if count > 0 {
                if code >= 1 << length {
                    return None;
                }
                table.end[length as usize] = code << (16 - length);
            }
            code <<= 1;
        }
        (place == symbols.len()).then_some(table)
    }

    /// Fills the rows of the look-up that begin with a code.
    fn see(&mut self, class: Class, code: u32, length: u32, symbol: u8) {
        // A code that does not fit its length is refused by who calls.
        if length > LOOK || code >= 1 << length {
            return;
        }
        let spare = LOOK - length;
        let size = u32::from(symbol & 15);
        let has_value = size <= spare && (class == Class::Dc || size > 0);
        for tail in 0..1_u32 << spare {
            self.look[((code << spare) | tail) as usize] = if has_value {
                let run = if class == Class::Ac { u32::from(symbol >> 4) } else { 0 };
                Seen::value(length + size, run, extended(tail >> (spare - size), size))
            } else {
                Seen::symbol(length, symbol)
            };
        }
    }

    /// What `bits`, whose top is next, begin with.
    #[inline(always)]
    pub(super) fn look(&self, bits: u64) -> Seen {
        self.look[(bits >> (64 - LOOK)) as usize]
    }

    /// The symbol at the top of `bits` whose code is longer than a look, and the code's length. None where it is no code.
    #[cold]
    pub(super) fn long(&self, bits: u64) -> Option<Seen> {
        let top = (bits >> 48) as u32;
        for length in LOOK + 1..=16 {
            if top < self.end[length as usize] {
                let code = (top >> (16 - length)).cast_signed();
                let place = usize::try_from(code + self.offset[length as usize]).ok()?;
                return Some(Seen::symbol(length, *self.symbols.get(place)?));
            }
        }
        None
    }
}

/// A leap sees this many bits.
const LEAP: u32 = 12;

/// What several AC codes in a row say of where they lead, for passing over blocks: as many as a leap sees.
#[derive(Debug)]
pub(super) struct Leaps(Box<[Leap; 1 << LEAP]>);

/// Bits taken, places gone on, and whether the block ends.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Leap {
    pub(super) taken: u8,
    pub(super) places: u8,
    pub(super) is_end: bool,
}

impl Leaps {
    /// Of an AC table.
    pub(super) fn new(table: &Table) -> Option<Self> {
        let mut leaps = vec![Leap::default(); 1 << LEAP];
        for (start, leap) in (0_u64..).zip(&mut leaps) {
            let bits = start << (64 - LEAP);
            while !leap.is_end {
                let seen = table.look(bits << leap.taken);
                let taken = u32::from(leap.taken) + seen.taken();
                let size = u32::from(seen.run_and_size() & 15);
                let (places, is_end, taken) = match (seen.is_value(), seen.is_symbol(), seen.run_and_size()) {
                    (true, ..) => (seen.run() + 1, false, taken),
                    (_, true, 0) => (0, true, taken),
                    (_, true, 0xF0) => (16, false, taken),
                    // Its magnitude is passed over as well.
                    (_, true, symbol) if size > 0 => (usize::from(symbol >> 4) + 1, false, taken + size),
                    _ => break,
                };
                if taken > LEAP {
                    break;
                }
                *leap = Leap {
                    taken: taken as u8,
                    places: leap.places + places as u8,
                    is_end,
                };
            }
        }
        Some(Self(leaps.into_boxed_slice().try_into().ok()?))
    }

    /// What `bits`, whose top is next, begin with. Nothing is taken where not even one code fits.
    #[inline(always)]
    pub(super) fn look(&self, bits: u64) -> Leap {
        self.0[(bits >> (64 - LEAP)) as usize]
    }
}

/// EXTEND of F.2.2.1: the number that `size` bits stand for. `size` is up to 15.
#[inline(always)]
pub(super) fn extended(bits: u32, size: u32) -> i16 {
    let is_negative = bits < (1 << size) >> 1;
    (bits.cast_signed() - if is_negative { (1 << size) - 1 } else { 0 }) as i16
}
