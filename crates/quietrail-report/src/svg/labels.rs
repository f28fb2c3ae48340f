//! Labels that keep clear of each other and of the curves.

use super::scene::{Frame, Point};

/// A label of the right-hand column: where its curve is, and how high it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Wish {
    /// Where its middle would best be.
    pub(super) middle: f64,
    /// Its height with the space that it needs around it.
    pub(super) height: f64,
}

/// Middles for labels in one column: as near as possible to what they wish, in the same order, none
/// over another, all between `top` and `bottom` if they fit there at all (else they run on below).
///
/// Neighbours that push each other form a block, and a block stands at the mean of its wishes (pool
/// adjacent violators).
pub(super) fn spread(wishes: &[Wish], top: f64, bottom: f64) -> Vec<f64> {
    struct Block {
        members: Vec<usize>,
        height: f64,
        start: f64,
    }

    // In the order of their first lines, which stand at the curves: a label of many lines does not change places with one
    // that belongs below it.
    let first = |wish: &Wish| wish.middle - wish.height / 2.0;
    let mut order: Vec<usize> = (0..wishes.len()).collect();
    order.sort_by(|&a, &b| first(&wishes[a]).total_cmp(&first(&wishes[b])));

    let settle = |members: &[usize], height: f64| {
        let mut before = 0.0;
        let mut sum = 0.0;
        for &member in members {
            sum += wishes[member].middle - wishes[member].height / 2.0 - before;
            before += wishes[member].height;
        }
        let wish = sum / members.len() as f64;
        wish.min(bottom - height).max(top)
    };

    let mut blocks: Vec<Block> = Vec::new();
    for index in order {
        let height = wishes[index].height;
        let mut block = Block {
            members: vec![index],
            height,
            start: settle(&[index], height),
        };
        while let Some(above) = blocks.pop_if(|above| above.start + above.height > block.start) {
            let mut members = above.members;
            members.extend(block.members);
            let height = above.height + block.height;
            let start = settle(&members, height);
            block = Block {
                members,
                height,
                start,
            };
        }
        blocks.push(block);
    }

    let mut middles = vec![0.0; wishes.len()];
    for block in blocks {
        let mut y = block.start;
        for member in block.members {
            middles[member] = y + wishes[member].height / 2.0;
            y += wishes[member].height;
        }
    }
    middles
}

/// The first of some boxes that meets no obstacle, else the one that meets the fewest.
pub(super) fn clearest(
    candidates: &[Frame],
    curves: &[&[Point]],
    boxes: &[Frame],
) -> Option<Frame> {
    let cost = |candidate: &Frame| {
        let crossed: usize = curves
            .iter()
            .flat_map(|curve| curve.windows(2))
            .filter(|edge| meets(candidate, edge[0], edge[1]))
            .count();
        let covered = boxes
            .iter()
            .filter(|taken| taken.overlaps(candidate))
            .count();
        crossed + 100 * covered
    };
    let mut best: Option<(usize, Frame)> = None;
    for candidate in candidates {
        let cost = cost(candidate);
        if cost == 0 {
            return Some(*candidate);
        }
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, *candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Whether a straight stretch touches a box (by the slab method).
fn meets(area: &Frame, from: Point, to: Point) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    let slabs = [
        (from.x, to.x - from.x, area.x, area.right()),
        (from.y, to.y - from.y, area.y, area.bottom()),
    ];
    for (start, run, low, high) in slabs {
        if run == 0.0 {
            if start < low || start > high {
                return false;
            }
            continue;
        }
        let (a, b) = ((low - start) / run, (high - start) / run);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    enter <= leave
}

#[cfg(test)]
mod tests {
    use super::{Wish, clearest, meets, spread};
    use crate::svg::scene::{Frame, at};

    fn wishes(middles: &[f64]) -> Vec<Wish> {
        middles
            .iter()
            .map(|&middle| Wish {
                middle,
                height: 20.0,
            })
            .collect()
    }

    #[test]
    fn labels_with_room_stay_where_they_wish() {
        assert_eq!(spread(&wishes(&[50.0, 90.0]), 0.0, 200.0), [50.0, 90.0]);
    }

    #[test]
    fn neighbours_share_the_push() {
        assert_eq!(spread(&wishes(&[100.0, 100.0]), 0.0, 200.0), [90.0, 110.0]);
    }

    #[test]
    fn none_overlap_and_all_stay_inside_however_they_wish() {
        for spacing in [0.0, 1.0, 7.0, 19.0] {
            for first in [-30.0, 0.0, 55.0, 150.0, 230.0] {
                let middles: Vec<f64> = (0..8)
                    .rev()
                    .map(|i| first + spacing * f64::from(i))
                    .collect();
                let mut found = spread(&wishes(&middles), 0.0, 200.0);
                found.sort_by(f64::total_cmp);
                for pair in found.windows(2) {
                    assert!(pair[1] - pair[0] >= 20.0 - 1e-9, "{found:?}");
                }
                assert!(
                    found[0] >= 10.0 - 1e-9 && found[7] <= 190.0 + 1e-9,
                    "{found:?}"
                );
            }
        }
    }

    #[test]
    fn a_box_meets_a_line_through_it_even_without_a_point_inside() {
        let area = Frame {
            x: 10.0,
            y: 10.0,
            width: 10.0,
            height: 10.0,
        };
        assert!(meets(&area, at(0.0, 15.0), at(40.0, 15.0)));
        assert!(!meets(&area, at(0.0, 25.0), at(40.0, 25.0)));
        assert!(!meets(&area, at(0.0, 0.0), at(5.0, 40.0)));
    }

    #[test]
    fn the_first_free_place_is_taken() {
        let place = |y: f64| Frame {
            x: 0.0,
            y,
            width: 10.0,
            height: 10.0,
        };
        let curve = [at(0.0, 5.0), at(10.0, 5.0)];
        let found = clearest(
            &[place(0.0), place(20.0), place(40.0)],
            &[&curve],
            &[place(22.0)],
        );
        assert_eq!(found, Some(place(40.0)));
    }
}
