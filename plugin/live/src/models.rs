//! Models of the lock-free code, explored by the checker `loom`: every interleaving of the threads within the bound,
//! and for each relaxed load every value that the memory model allows.
//!
//! Run with `RUSTFLAGS="--cfg loom" cargo test -p plumbline-live --lib --release models::`. `LOOM_MAX_PREEMPTIONS`
//! replaces the bound.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Instant;

/// How often a thread is interrupted at most in one execution, unless the environment says otherwise.
const MOST_PREEMPTIONS: usize = 3;

/// The outcomes that the executions of a model reached, and how often.
#[derive(Clone, Default)]
pub(crate) struct Reached(Arc<Mutex<BTreeMap<String, u64>>>);

impl Reached {
    /// Notes an outcome of this execution.
    pub(crate) fn note(&self, outcome: impl Into<String>) {
        *self.0.lock().unwrap().entry(outcome.into()).or_default() += 1;
    }
}

/// Explores a model, prints how far, and checks that it reached all of `outcomes`: one that does not tests too little.
pub(crate) fn explore(name: &str, outcomes: &[&str], model: impl Fn(&Reached) + Send + Sync + 'static) {
    const EXECUTIONS: &str = "executions";
    let mut builder = loom::model::Builder::new();
    let bound = *builder.preemption_bound.get_or_insert(MOST_PREEMPTIONS);
    let reached = Reached::default();
    let noted = reached.clone();
    let start = Instant::now();
    builder.check(move || {
        noted.note(EXECUTIONS);
        model(&noted);
    });
    let secs = start.elapsed().as_secs_f64();
    let reached = reached.0.lock().unwrap();
    eprintln!("\n{name}: at most {bound} preemptions, {secs:.1} s, {reached:?}");
    for outcome in outcomes {
        assert!(reached.contains_key(*outcome), "{name}: never reached {outcome}: {reached:?}");
    }
    assert!(reached[EXECUTIONS] >= 20, "{name}: {reached:?}");
}
