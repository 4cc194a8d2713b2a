//! Catches panics: a panic that reaches the host ends it and loses the user's work.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Runs `work` and turns a panic in it into an error.
///
/// # Realtime Safety
/// Adds nothing to `work` unless it panics; a panic allocates.
///
/// # Errors
/// The message of the panic. Changes made by `work` remain: the caller drops whatever it can no longer trust.
pub fn guarded<R>(work: impl FnOnce() -> R) -> Result<R, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|payload| message(payload.as_ref()))
}

fn message(payload: &(dyn Any + Send)) -> String {
    let text = payload.downcast_ref::<&str>().map(|text| (*text).to_owned());
    text.or_else(|| payload.downcast_ref::<String>().cloned()).unwrap_or_else(|| "no message".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_its_message() {
        assert_eq!(guarded(|| 7), Ok(7));
        let plain = guarded(|| panic!("the rope slipped"));
        assert_eq!(plain, Err::<(), _>("the rope slipped".to_owned()));
        let formatted = guarded(|| panic!("stone {} cracked", 3));
        assert_eq!(formatted, Err::<(), _>("stone 3 cracked".to_owned()));
        let other = guarded(|| std::panic::panic_any(5_u8));
        assert_eq!(other, Err::<(), _>("no message".to_owned()));
    }
}
