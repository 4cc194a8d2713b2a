//! Keeps a panic inside the plug-in: one that crosses into the host ends the host, with the user's work in it.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Runs `work`; a panic in it becomes its message.
///
/// # Realtime Safety
/// Nothing beyond `work` unless it panics; a panic allocates.
///
/// # Errors
/// The message of the panic. What `work` had changed stays changed: the caller drops what it can no longer trust.
pub fn contained<R>(work: impl FnOnce() -> R) -> Result<R, String> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|payload| message(payload.as_ref()))
}

fn message(payload: &(dyn Any + Send)) -> String {
    payload
        .downcast_ref::<&str>()
        .map(|text| (*text).to_owned())
        .or_else(|| payload.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "no message".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_its_message() {
        assert_eq!(contained(|| 7), Ok(7));
        let plain = contained(|| panic!("the rope slipped"));
        assert_eq!(plain, Err::<(), _>("the rope slipped".to_owned()));
        let formatted = contained(|| panic!("stone {} cracked", 3));
        assert_eq!(formatted, Err::<(), _>("stone 3 cracked".to_owned()));
        let other = contained(|| std::panic::panic_any(5_u8));
        assert_eq!(other, Err::<(), _>("no message".to_owned()));
    }
}
