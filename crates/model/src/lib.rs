//! From a compost batch's history to its maturity and readiness window.

pub mod advice;
pub mod agenda;
pub mod air;
pub mod bay;
pub mod check;
pub mod checkpoint;
pub mod course;
mod day;
pub mod discrepancy;
pub mod draw;
pub mod emulator;
pub mod ensemble;
pub mod estimate;
pub mod estimator;
pub mod feedstock;
pub mod futures;
pub mod heap;
pub mod heat;
pub mod history;
pub mod kinetics;
pub mod learned;
mod learning;
pub mod lesson;
pub mod maturity;
pub mod moisture;
pub mod moment;
pub mod nitrogen;
pub mod observation;
pub mod order;
pub mod parameters;
pub mod placement;
pub mod pooling;
pub mod prior;
pub mod probe;
pub mod problem;
pub mod psychrometrics;
pub mod rates;
pub mod rosenbrock;
pub mod sanitisation;
pub mod seeds;
pub mod shrinkage;
pub mod simulation;
pub mod site;
mod stretch;
pub mod thermal_time;
pub mod timeline;
pub mod variant;
pub mod weather;
pub mod weighted;
pub mod window;

/// Version of the model: changes whenever an answer may.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

pub use checkpoint::Checkpoint;
pub use estimator::{CAUTIONS, EstimateError, estimate, estimate_from, log_density};
pub use feedstock::default_feedstocks;
