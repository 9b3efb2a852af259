//! Pixels of a piece of an edge that lie alike, taken as one: a fit then has some hundred of them, however large the sheet is.

use super::step::{CLIPPED, EdgePixel};

/// Pixels that differ in their distance from the edge by less than this, px, count as one, and in a wide border by less than this
/// share of the blur: it adds half a hundredth of a px², or of itself, to the square of the blur.
const BIN_PX: f64 = 0.25;
const BIN_BLURS: f64 = 0.25;
/// So many blurs from a step, and further, the light only follows its slope: there so many bins are one.
const NEAR_BLURS: f64 = 6.0;
const FAR_BINS: usize = 8;
/// Parts of a piece along the edge, for the light's slope along it.
pub(super) const PARTS: usize = 2;

/// Which pixels count as one, by their distance from the edge.
pub(super) struct Bins {
    /// The least distance, px, positive outward, and the width of a fine bin.
    least_px: f64,
    fine_px: f64,
    /// The bin of each fine one.
    bin_of: Vec<usize>,
    count: usize,
}

impl Bins {
    /// Over distances from `from_px` to `to_px`, positive outward, from an edge of a border that is `cell_px` wide. `blur_px` is what it is
    /// measured to be; in a border that is not `well_resolved` all bins are fine.
    pub fn new([from_px, to_px]: [f64; 2], cell_px: f64, blur_px: f64, well_resolved: bool) -> Self {
        let fine_px = if well_resolved {
            BIN_PX.max(BIN_BLURS * blur_px)
        } else {
            BIN_PX
        };
        let near_px = NEAR_BLURS * blur_px;
        let (mut bin_of, mut bin, mut joined) = (Vec::new(), 0, 0);
        let fine = ((to_px - from_px) / fine_px).max(0.0) as usize + 1;
        for n in 0..fine {
            let out_px = from_px + (n as f64 + 0.5) * fine_px;
            let is_near = out_px.abs() < near_px || (out_px + cell_px).abs() < near_px;
            let most = if is_near || !well_resolved { 1 } else { FAR_BINS };
            if joined >= most {
                (bin, joined) = (bin + 1, 0);
            }
            joined += 1;
            bin_of.push(bin);
        }
        Self {
            least_px: from_px,
            fine_px,
            bin_of,
            count: bin + 1,
        }
    }

    fn bin(&self, out_px: f64) -> usize {
        let fine = ((out_px - self.least_px) / self.fine_px) as usize;
        self.bin_of.get(fine).copied().unwrap_or(self.count - 1)
    }
}

/// Sums over the pixels of one bin.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    out_px: f64,
    along_px: f64,
    light: f64,
    squares: f64,
}

/// The pixels of an edge's pieces on the way into their bins.
pub(super) struct Binned<'a> {
    bins: &'a Bins,
    /// For each piece, part and bin, clipped ones apart: how bright they really were is not known.
    sums: Vec<[Sums; 2]>,
}

impl<'a> Binned<'a> {
    pub fn new(bins: &'a Bins, pieces: usize) -> Self {
        Self {
            bins,
            sums: vec![[Sums::default(); 2]; pieces * PARTS * bins.count],
        }
    }

    /// Takes in a pixel of a part, counted through all pieces.
    pub fn add(&mut self, part: usize, out_px: f64, along_px: f64, light: f64) {
        let place = part * self.bins.count + self.bins.bin(out_px);
        let clipped = usize::from(light >= CLIPPED);
        if let Some(sums) = self.sums.get_mut(place).map(|both| &mut both[clipped]) {
            sums.count += 1.0;
            sums.out_px += out_px;
            sums.along_px += along_px;
            sums.light += light;
            sums.squares += light * light;
        }
    }

    /// The means of all bins, piece by piece. `along_cells` gives where a pixel lies along the tag's side, in cells, from its px along and
    /// outward.
    pub fn into_pieces(self, along_cells: impl Fn(f64, f64) -> f64) -> Vec<Vec<EdgePixel>> {
        let mean = |sums: &Sums| {
            let share = 1.0 / sums.count;
            let (out_px, along_px, light) = (share * sums.out_px, share * sums.along_px, share * sums.light);
            EdgePixel {
                count: sums.count,
                scatter: (sums.squares - sums.light * light).max(0.0),
                out_px,
                along_px,
                along_cells: along_cells(along_px, out_px),
                light,
            }
        };
        let pieces = self.sums.chunks(PARTS * self.bins.count);
        pieces
            .map(|piece| {
                piece
                    .as_flattened()
                    .iter()
                    .filter(|sums| sums.count > 0.0)
                    .map(mean)
                    .collect()
            })
            .collect()
    }
}
