//! The header that says which trace a request is part of.

#[path = "../../../crates/baycast/src/trace/parent.rs"]
#[allow(dead_code, reason = "the service uses more of it")]
mod parent;

use parent::Parent;

/// A header that is read names the trace as it is told on.
pub fn ask(header: &[u8]) {
    let Ok(header) = std::str::from_utf8(header) else { return };
    let Some((trace, span, flags)) = Parent::read(header) else { return };
    assert!(
        trace != 0 && span != 0 && header.contains(&format!("{trace:032x}")),
        "{trace:x} from {header:?}"
    );
    let told = Parent { trace, span, flags, caller: None }.header();
    let told = std::str::from_utf8(&told).expect("digits");
    assert_eq!(Parent::read(told), Some((trace, span, flags)), "{told}");
}
