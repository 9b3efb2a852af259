//! From black cells to the outline of the black shape.

use super::TagCells;

/// The closed outlines of the black cells in units of one cell: x to the right and y *down* from the tag's upper left
/// corner. Filled together by the even-odd rule they are the tag.
///
/// Why outlines and not 64 squares: where two filled squares meet, many printers and viewers leave a hairline of
/// half-covered pixels, which reads as an edge inside a black area.
pub(super) fn outlines(cells: &TagCells) -> Vec<Vec<[u8; 2]>> {
    let side = cells.len() as i32;
    let black = |column: i32, row: i32| {
        let at = |n: i32| usize::try_from(n).ok();
        at(row)
            .zip(at(column))
            .and_then(|(row, column)| cells.get(row)?.get(column))
            .copied()
            .unwrap_or(false)
    };
    // Each edge between black and white, walked with black on its right hand (y points down).
    let mut edges: Vec<([i32; 2], [i32; 2])> = Vec::new();
    for row in 0..side {
        for column in 0..side {
            if !black(column, row) {
                continue;
            }
            let [left, top, right, bottom] = [column, row, column + 1, row + 1];
            if !black(column, row - 1) {
                edges.push(([left, top], [right, top]));
            }
            if !black(column + 1, row) {
                edges.push(([right, top], [right, bottom]));
            }
            if !black(column, row + 1) {
                edges.push(([right, bottom], [left, bottom]));
            }
            if !black(column - 1, row) {
                edges.push(([left, bottom], [left, top]));
            }
        }
    }
    let mut loops = Vec::new();
    while !edges.is_empty() {
        let (start, mut here) = edges.remove(0);
        let mut corners = vec![start];
        while here != start {
            corners.push(here);
            // Every corner has as many edges out as in, so that a walk can only end where it began. Where two black
            // cells touch at a corner only, either way on gives the same filled shape.
            let Some(n) = edges.iter().position(|(from, _)| *from == here) else {
                break;
            };
            here = edges.remove(n).1;
        }
        loops.push(without_straight_corners(&corners));
    }
    loops
}

/// Drops the corners at which the outline goes straight on.
fn without_straight_corners(corners: &[[i32; 2]]) -> Vec<[u8; 2]> {
    let count = corners.len();
    (0..count)
        .filter_map(|n| {
            let before = corners.get((n + count - 1) % count)?;
            let here = corners.get(n)?;
            let after = corners.get((n + 1) % count)?;
            let straight = (0..2).any(|axis| before[axis] == here[axis] && here[axis] == after[axis]);
            let [x, y] = [u8::try_from(here[0]).ok()?, u8::try_from(here[1]).ok()?];
            (!straight).then_some([x, y])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The slow, obvious reference: is a cell's middle inside the outlines, by counting crossings of a ray to the left?
    fn filled(loops: &[Vec<[u8; 2]>], column: usize, row: usize) -> bool {
        let [x, y] = [column as f64 + 0.5, row as f64 + 0.5];
        let crossings = loops
            .iter()
            .flat_map(|corners| corners.iter().zip(corners.iter().cycle().skip(1)))
            .filter(|([ax, ay], [bx, by])| {
                let [low, high] = [f64::from(*ay.min(by)), f64::from(*ay.max(by))];
                ax == bx && f64::from(*ax) < x && low < y && y < high
            })
            .count();
        crossings % 2 == 1
    }

    #[test]
    fn outlines_fill_the_black_cells_and_no_others() {
        // Many patterns, with cells that touch at corners and white islands within black.
        let mut state = 1_u64;
        for _ in 0..200 {
            let mut cells = [[false; 8]; 8];
            for cell in cells.iter_mut().flatten() {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                *cell = state >> 63 == 1;
            }
            let loops = outlines(&cells);
            for (row, line) in cells.iter().enumerate() {
                for (column, &black) in line.iter().enumerate() {
                    assert_eq!(filled(&loops, column, row), black, "{cells:?} at {column}, {row}");
                }
            }
        }
    }

    #[test]
    fn a_black_square_is_four_corners() {
        assert_eq!(outlines(&[[true; 8]; 8]), [vec![[0, 0], [8, 0], [8, 8], [0, 8]]]);
        assert!(outlines(&[[false; 8]; 8]).is_empty());
    }
}
