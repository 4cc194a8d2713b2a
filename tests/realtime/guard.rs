//! The allocator guard: counts each thread's calls of the allocator, in debug and in release.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

thread_local! {
    // A constant without a destructor, so access never allocates.
    static CALLS: Cell<u64> = const { Cell::new(0) };
}

struct Counting;

fn count() {
    // Fails only while the thread is destroyed, when the count is no longer needed.
    let _ = CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

// SAFETY: every call goes to the system's allocator unchanged; counting touches none of its memory.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller keeps the contract, which is the same.
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count();
        // SAFETY: as above.
        unsafe { System.dealloc(at, layout) }
    }
    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: as above.
        unsafe { System.alloc_zeroed(layout) }
    }
    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: as above.
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Runs `work` and returns the number of this thread's allocator calls during it.
pub(crate) fn allocator_calls(work: impl FnOnce()) -> u64 {
    let before = CALLS.get();
    work();
    CALLS.get() - before
}

#[test]
fn the_guard_catches_an_allocation_a_growth_and_a_release() {
    use std::hint::black_box;
    assert_eq!(allocator_calls(|| assert_eq!(black_box(1), 1)), 0);
    let mut kept = Vec::new();
    assert_eq!(allocator_calls(|| kept = black_box(Vec::<u8>::with_capacity(100))), 1);
    assert_eq!(allocator_calls(|| kept.reserve_exact(black_box(1_000))), 1);
    assert_eq!(allocator_calls(|| drop(black_box(std::mem::take(&mut kept)))), 1);
    assert_eq!(allocator_calls(|| drop(black_box(vec![0_u64; 64]))), 2, "zeroed memory, and its release");
    // Another thread's calls do not count.
    let other = std::thread::spawn(|| drop(black_box(vec![1_u8; 10_000])));
    let calls = allocator_calls(|| while !other.is_finished() {});
    assert_eq!(calls, 0);
    other.join().unwrap();
}
