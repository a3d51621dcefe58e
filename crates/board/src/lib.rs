//! The board: pages for the shed's screen, and for a phone at the heap.
//!
//! Every page is whole without JavaScript. What stands on them comes from the service, the words from `words`, the
//! drawings from `drawing`. Nothing is asked of another origin, and nothing is styled or scripted inline.

mod access;
mod assets;
mod batch;
mod changes;
mod dates;
mod drawing;
mod farms;
mod figures;
mod form;
mod headers;
mod kept;
mod note;
mod paths;
mod plan;
mod refusal;
mod router;
mod same_origin;
mod sign_in;
mod words;
mod yard;

pub use access::KEY_COOKIE;
pub use router::router;
