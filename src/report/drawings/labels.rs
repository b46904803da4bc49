//! Labels that never lie on each other.
//!
//! A label first tries its own spot, then spots on widening rings round it, and at last a slot in
//! the margin under the drawing, of which there are as many as needed. So a place is always found.

/// An upright rectangle in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Left.
    pub x: f64,
    /// Top.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Rect {
    /// Whether the two share more than an edge.
    pub fn overlaps(self, other: Rect) -> bool {
        self.x < other.x + other.w
            && other.x < self.x + self.w
            && self.y < other.y + other.h
            && other.y < self.y + self.h
    }

    /// Middle.
    pub fn middle(self) -> (f64, f64) {
        (self.x + self.w / 2.0, self.y + self.h / 2.0)
    }

    fn within(self, other: Rect) -> bool {
        self.x >= other.x
            && self.y >= other.y
            && self.x + self.w <= other.x + other.w
            && self.y + self.h <= other.y + other.h
    }

    fn grown(self, by: f64) -> Rect {
        Rect {
            x: self.x - by,
            y: self.y - by,
            w: self.w + 2.0 * by,
            h: self.h + 2.0 * by,
        }
    }
}

/// Side of a cell of the look-up grid, in pixels.
const CELL: f64 = 32.0;

/// Keeps what is taken and finds room for more.
#[derive(Debug)]
pub struct Placer {
    bounds: Rect,
    taken: Vec<Rect>,
    soft: Vec<Rect>,
    columns: usize,
    cells: Vec<Vec<u32>>,
    slot: (f64, f64),
    slot_height: f64,
    bottom: f64,
}

impl Placer {
    /// Room for labels inside `bounds`; the margin for what finds none begins under it.
    pub fn new(bounds: Rect) -> Self {
        let columns = cells(bounds.w);
        Placer {
            bounds,
            taken: Vec::new(),
            soft: Vec::new(),
            columns,
            cells: vec![Vec::new(); columns * cells(bounds.h)],
            slot: (bounds.x + 4.0, bounds.y + bounds.h + 6.0),
            slot_height: 0.0,
            bottom: bounds.y + bounds.h,
        }
    }

    /// Marks something that a label should rather not cover.
    pub fn avoid(&mut self, rect: Rect) {
        self.soft.push(rect);
    }

    /// Lowest edge in use: the drawing must be at least as high.
    pub fn bottom(&self) -> f64 {
        self.bottom
    }

    /// Every label placed so far.
    pub fn taken(&self) -> &[Rect] {
        &self.taken
    }

    /// Places a label of `w` by `h` with its middle as near to `at` as there is room. `own` is the
    /// thing it labels, which it may cover. The second value is false where it had to move so far
    /// that it needs a leader line.
    pub fn place(&mut self, at: (f64, f64), w: f64, h: f64, own: Option<Rect>) -> (Rect, bool) {
        let spot = |dx: f64, dy: f64| Rect {
            x: at.0 + dx - w / 2.0,
            y: at.1 + dy - h / 2.0,
            w,
            h,
        };
        for shy in [true, false] {
            let here = spot(0.0, 0.0);
            if self.free(here, own, shy) {
                self.take(here);
                return (here, true);
            }
            // Rings about a third of the label apart; steps on a ring about as long.
            let step = (w.min(h) / 2.0).max(4.0);
            for ring in 1..=18 {
                let radius = step * f64::from(ring);
                let count = (6 * ring).clamp(8, 48);
                for k in 0..count {
                    let angle = std::f64::consts::TAU * f64::from(k) / f64::from(count);
                    // Wider than high, as labels are.
                    let stretch = (w / h).clamp(1.0, 2.5);
                    let there = spot(radius * stretch * angle.sin(), -radius * angle.cos());
                    if self.free(there, own, shy) {
                        self.take(there);
                        let near = own.is_some_and(|o| o.grown(2.0).overlaps(there))
                            || radius <= step * 2.0;
                        return (there, near);
                    }
                }
            }
        }
        (self.in_margin(w, h), false)
    }

    /// Takes a fixed place if it is free.
    pub fn claim(&mut self, rect: Rect) -> bool {
        let free = self.free(rect, None, false);
        if free {
            self.take(rect);
        }
        free
    }

    fn in_margin(&mut self, w: f64, h: f64) -> Rect {
        if self.slot.0 + w > self.bounds.x + self.bounds.w && self.slot_height > 0.0 {
            self.slot = (self.bounds.x + 4.0, self.slot.1 + self.slot_height + 4.0);
            self.slot_height = 0.0;
        }
        let rect = Rect {
            x: self.slot.0,
            y: self.slot.1,
            w,
            h,
        };
        self.slot.0 += w + 4.0;
        self.slot_height = self.slot_height.max(h);
        self.bottom = self.bottom.max(rect.y + h + 4.0);
        self.taken.push(rect);
        rect
    }

    fn take(&mut self, rect: Rect) {
        let index = u32::try_from(self.taken.len()).unwrap_or(u32::MAX);
        self.taken.push(rect);
        for cell in self.cells_of(rect) {
            if let Some(list) = self.cells.get_mut(cell) {
                list.push(index);
            }
        }
    }

    fn free(&self, rect: Rect, own: Option<Rect>, shy: bool) -> bool {
        if !rect.within(self.bounds) {
            return false;
        }
        let hard = self.cells_of(rect).into_iter().any(|cell| {
            self.cells.get(cell).is_some_and(|list| {
                list.iter().any(|i| {
                    self.taken
                        .get(*i as usize)
                        .is_some_and(|t| t.grown(1.0).overlaps(rect))
                })
            })
        });
        if hard {
            return false;
        }
        !shy || !self
            .soft
            .iter()
            .any(|s| Some(*s) != own && s.overlaps(rect))
    }

    fn cells_of(&self, rect: Rect) -> Vec<usize> {
        let index = |v: f64, from: f64| ((v - from) / CELL).floor().max(0.0) as usize;
        let (x0, x1) = (
            index(rect.x - 1.0, self.bounds.x),
            index(rect.x + rect.w + 1.0, self.bounds.x),
        );
        let (y0, y1) = (
            index(rect.y - 1.0, self.bounds.y),
            index(rect.y + rect.h + 1.0, self.bounds.y),
        );
        let x1 = x1.min(self.columns.saturating_sub(1));
        (y0..=y1)
            .flat_map(|y| (x0..=x1).map(move |x| y * self.columns + x))
            .collect()
    }
}

fn cells(length: f64) -> usize {
    ((length.max(1.0) / CELL).ceil() as usize + 1).min(4096)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn no_two_labels_overlap(
            spots in prop::collection::vec((0.0..300.0f64, 0.0..200.0f64, 8.0..90.0f64, 10.0..24.0f64), 1..160),
        ) {
            let mut placer = Placer::new(Rect { x: 0.0, y: 0.0, w: 300.0, h: 200.0 });
            let rects: Vec<Rect> =
                spots.iter().map(|(x, y, w, h)| placer.place((*x, *y), *w, *h, None).0).collect();
            for (i, a) in rects.iter().enumerate() {
                prop_assert!(a.y + a.h <= placer.bottom() + 1e-9);
                for b in &rects[i + 1..] {
                    prop_assert!(!a.overlaps(*b), "{:?} and {:?}", a, b);
                }
            }
        }
    }

    #[test]
    fn a_label_with_room_stays_where_it_belongs() {
        let mut placer = Placer::new(Rect {
            x: 0.0,
            y: 0.0,
            w: 300.0,
            h: 200.0,
        });
        let (first, near) = placer.place((50.0, 50.0), 20.0, 20.0, None);
        assert_eq!(
            (first, near),
            (
                Rect {
                    x: 40.0,
                    y: 40.0,
                    w: 20.0,
                    h: 20.0
                },
                true
            )
        );
        assert!(!placer.claim(first));
    }
}
