//! A run takes no memory once board and trail have grown: counted, not believed.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

use ringtrue::facts::{Bits, Scope};
use ringtrue::rules::{Board, Pack, Thing, Trail, builtin, run};

mod things;
use things::thing;

struct Counting;

thread_local! {
    static TAKEN: Cell<usize> = const { Cell::new(0) };
}

// SAFETY: every call is handed on to the system allocator as it came; counting touches no memory
// of the caller's.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let _ = TAKEN.try_with(|n| n.set(n.get() + 1));
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, ptr: *mut u8, layout: Layout) {
        unsafe { System.dealloc(ptr, layout) }
    }
    unsafe fn realloc(&self, ptr: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        let _ = TAKEN.try_with(|n| n.set(n.get() + 1));
        unsafe { System.realloc(ptr, layout, size) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

fn taken() -> usize {
    TAKEN.with(Cell::get)
}

/// A slab with two areas, three panels and nine defects.
fn things() -> Vec<Thing> {
    let mut out = vec![thing(Scope::Site, None), thing(Scope::Slab, Some(0))];
    for _ in 0..2 {
        let area = out.len();
        out.push(thing(Scope::Area, Some(1)));
        for _ in 0..3 {
            out.push(thing(Scope::Panel, Some(area)));
        }
        for _ in 0..9 {
            out.push(thing(Scope::Defect, Some(area)));
        }
    }
    out.push(thing(Scope::Stair, Some(1)));
    out
}

/// Writes a record on the board without taking memory: every fact from outside gets one cell,
/// some cells or all, by a plain mixing of `seed`.
fn fill(pack: &Pack, board: &mut Board, mut seed: u64) {
    board.clear(pack);
    for thing in 0..board.things().len() {
        for (id, fact) in pack.vocabulary.facts() {
            if pack.maker(id).is_some() || fact.scope != board.things()[thing].scope {
                continue;
            }
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let domain = pack.cells[usize::from(id.0)].domain;
            let one = domain
                .iter()
                .nth((seed >> 33) as usize % domain.len())
                .map_or(domain, Bits::one);
            let some = Bits(domain.0 & (u128::from(seed) << 64 | u128::from(seed.rotate_left(17))));
            let bits = match seed >> 61 {
                0 => domain,
                1 => some,
                _ => one,
            };
            board.set_bits(thing, id, bits);
        }
    }
}

#[test]
fn a_run_takes_no_memory_in_steady_state() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let mut board = Board::new(&pack, things());
    let mut trail = Trail::default();
    // The memory of a trail grows to what the widest record needs: one on which nothing is known.
    run(&pack, &mut board, &mut trail);
    for seed in 0..40 {
        fill(&pack, &mut board, seed);
        run(&pack, &mut board, &mut trail);
    }
    let before = taken();
    for seed in 0..40 {
        fill(&pack, &mut board, seed);
        run(&pack, &mut board, &mut trail);
    }
    assert_eq!(taken() - before, 0, "allocations in forty runs");
    // The counter counts.
    let before = taken();
    drop(std::hint::black_box(vec![1u8; 16]));
    assert_eq!(taken() - before, 1);
}
