//! A fault in one place must not end the worker, nor the host with it.

use std::panic::{AssertUnwindSafe, catch_unwind};

/// Runs `work` and turns a panic in it into words. Whoever calls drops or marks as broken what may be half done.
pub(crate) fn guarded<R>(work: impl FnOnce() -> R) -> Result<R, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|payload| {
        let text = payload.downcast_ref::<&str>().map(|s| (*s).to_owned());
        text.or_else(|| payload.downcast_ref::<String>().cloned()).unwrap_or_else(|| "no words".to_owned())
    })
}
