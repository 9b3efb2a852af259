//! Writes files of random coefficients, of any sampling, with restarts and tables of any shape: what cameras and the usual
//! encoders write is but a part of what is allowed. It shares nothing with the decoder.

use rand::RngExt;
use rand::rngs::ChaCha8Rng;
use rand::seq::SliceRandom;

/// What to write.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    /// Width and height, px.
    pub size_px: [u16; 2],
    /// Blocks a unit of each component, across and down.
    pub sampling: Vec<[u8; 2]>,
    /// Units between restarts; 0 for none.
    pub restart: u16,
    /// Largest quantisation step.
    pub most_step: u16,
    /// Largest coefficient, before quantisation, is below 2^`most_bits`.
    pub most_bits: u8,
    /// Probability that a coefficient is not zero.
    pub density: f64,
    /// Codes are of very different lengths, up to 16 bits.
    pub is_skewed: bool,
}

/// A Huffman code: counts by length, symbols in order, and by symbol its code and length.
struct Code {
    counts: [u8; 16],
    symbols: Vec<u8>,
    codes: [(u32, u32); 256],
}

impl Code {
    fn new(mut symbols: Vec<u8>, is_skewed: bool, rng: &mut ChaCha8Rng) -> Self {
        symbols.shuffle(rng);
        let mut counts = [0_u8; 16];
        let mut left = symbols.len();
        let some = [
            (2, 1),
            (3, 1),
            (4, 2),
            (5, 2),
            (6, 2),
            (9, 4),
            (10, 4),
            (11, 4),
            (12, 30),
            (16, 255),
        ];
        let plenty = [(8, 200), (9, 100)];
        for (length, count) in if is_skewed { &some[..] } else { &plenty } {
            let count = left.min(*count);
            counts[length - 1] = count as u8;
            left -= count;
        }
        assert_eq!(left, 0);
        let mut codes = [(0, 0); 256];
        let (mut code, mut place) = (0, 0);
        for (length, count) in (1..).zip(counts) {
            for _ in 0..count {
                codes[usize::from(symbols[place])] = (code, length);
                code += 1;
                place += 1;
            }
            code <<= 1;
        }
        Self { counts, symbols, codes }
    }
}

/// Bits with stuffing.
#[derive(Default)]
struct Out {
    bytes: Vec<u8>,
    held: u64,
    count: u32,
}

impl Out {
    fn put(&mut self, bits: u32, count: u32) {
        for at in (0..count).rev() {
            self.held = (self.held << 1) | u64::from((bits >> at) & 1);
            self.count += 1;
            if self.count == 8 {
                self.bytes.push(self.held as u8);
                if self.held == 0xFF {
                    self.bytes.push(0);
                }
                (self.held, self.count) = (0, 0);
            }
        }
    }

    fn symbol(&mut self, code: &Code, symbol: u8) {
        let (bits, count) = code.codes[usize::from(symbol)];
        assert!(count > 0);
        self.put(bits, count);
    }

    /// Magnitude bits of a value of `size` bits.
    fn value(&mut self, value: i32, size: u32) {
        let bits = if value < 0 { value + (1 << size) - 1 } else { value };
        self.put(bits as u32, size);
    }

    fn pad(&mut self) {
        while self.count != 0 {
            self.put(1, 1);
        }
    }
}

fn size_of(value: i32) -> u32 {
    32 - value.unsigned_abs().leading_zeros()
}

fn segment(file: &mut Vec<u8>, marker: u8, body: &[u8]) {
    file.extend([0xFF, marker]);
    file.extend((body.len() as u16 + 2).to_be_bytes());
    file.extend(body);
}

/// A block: the new mean, and 63 others mostly at the front.
fn block(out: &mut Out, wanted: &Wanted, [dc, ac]: [&Code; 2], mean: &mut i32, rng: &mut ChaCha8Rng) {
    let most = (1_i32 << wanted.most_bits) - 1;
    // So that neither the mean nor its difference takes more than its bits.
    let next = rng.random_range(-most / 2..=most / 2);
    let difference = next - *mean;
    *mean = next;
    out.symbol(dc, size_of(difference) as u8);
    out.value(difference, size_of(difference));
    let end = if rng.random_bool(0.3) {
        0
    } else {
        rng.random_range(0..64)
    };
    let mut run = 0_u8;
    let mut last = 0;
    for k in 1..=end {
        let most = if rng.random_bool(0.9) { most.min(20) } else { most };
        let value = if rng.random_bool(wanted.density) {
            rng.random_range(-most..=most)
        } else {
            0
        };
        if value == 0 {
            run += 1;
            continue;
        }
        while run > 15 {
            out.symbol(ac, 0xF0);
            run -= 16;
        }
        out.symbol(ac, (run << 4) | size_of(value) as u8);
        out.value(value, size_of(value));
        (run, last) = (0, k);
    }
    if last < 63 {
        out.symbol(ac, 0);
    }
}

/// Two tables of random steps.
fn quantisation(file: &mut Vec<u8>, wanted: &Wanted, rng: &mut ChaCha8Rng) {
    let is_wide = wanted.most_step > 255;
    for table in 0..2_u8 {
        let mut body = vec![(u8::from(is_wide) << 4) | table];
        for _ in 0..64 {
            let step = rng.random_range(1..=wanted.most_step);
            if is_wide {
                body.extend(step.to_be_bytes())
            } else {
                body.push(step as u8)
            }
        }
        segment(file, 0xDB, &body);
    }
}

/// The file.
pub(super) fn file(wanted: &Wanted, rng: &mut ChaCha8Rng) -> Vec<u8> {
    let mut file = vec![0xFF, 0xD8];
    quantisation(&mut file, wanted, rng);
    let count = wanted.sampling.len() as u8;
    let mut body = vec![8];
    body.extend(wanted.size_px[1].to_be_bytes());
    body.extend(wanted.size_px[0].to_be_bytes());
    body.push(count);
    for (id, [across, down]) in (1..).zip(&wanted.sampling) {
        body.extend([id, (across << 4) | down, u8::from(id > 1)]);
    }
    segment(&mut file, 0xC1, &body);
    let dc_symbols: Vec<u8> = (0..=15).collect();
    let ac_symbols: Vec<u8> = (0..16_u8)
        .flat_map(|run| (1..=15_u8).map(move |size| (run << 4) | size))
        .chain([0, 0xF0])
        .collect();
    let codes: Vec<[Code; 2]> = (0..2)
        .map(|_| [&dc_symbols, &ac_symbols].map(|symbols| Code::new(symbols.clone(), wanted.is_skewed, rng)))
        .collect();
    for (table, both) in (0_u8..).zip(&codes) {
        for (class, code) in (0_u8..).zip(both) {
            let mut body = vec![(class << 4) | table];
            body.extend(code.counts);
            body.extend(&code.symbols);
            segment(&mut file, 0xC4, &body);
        }
    }
    if wanted.restart > 0 {
        segment(&mut file, 0xDD, &wanted.restart.to_be_bytes());
    }
    let mut body = vec![count];
    (1..=count).for_each(|id| body.extend([id, if id > 1 { 0x11 } else { 0 }]));
    body.extend([0, 63, 0]);
    segment(&mut file, 0xDA, &body);
    file.extend(scan(wanted, &codes, rng));
    file.extend([0xFF, 0xD9]);
    file
}

fn scan(wanted: &Wanted, codes: &[[Code; 2]], rng: &mut ChaCha8Rng) -> Vec<u8> {
    let most = |axis: usize| {
        wanted
            .sampling
            .iter()
            .map(|of| usize::from(of[axis]))
            .max()
            .unwrap_or(1)
    };
    let units = (0..2)
        .map(|axis| usize::from(wanted.size_px[axis]).div_ceil(8 * most(axis)))
        .product::<usize>();
    let mut out = Out::default();
    let mut means = vec![0; wanted.sampling.len()];
    for unit in 0..units {
        if wanted.restart > 0 && unit > 0 && unit % usize::from(wanted.restart) == 0 {
            out.pad();
            out.bytes
                .extend([0xFF, 0xD0 + ((unit / usize::from(wanted.restart) - 1) % 8) as u8]);
            means.fill(0);
        }
        for (component, [across, down]) in wanted.sampling.iter().enumerate() {
            let [dc, ac] = &codes[component.min(1)];
            for _ in 0..across * down {
                block(&mut out, wanted, [dc, ac], &mut means[component], rng);
            }
        }
    }
    out.pad();
    out.bytes
}
