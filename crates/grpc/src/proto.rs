//! Types generated from `proto/baycast/v1`.

#![allow(missing_docs, unused_qualifications, clippy::all, clippy::pedantic, reason = "generated")]

tonic::include_proto!("baycast.v1");

/// The compiled descriptors of the contract, as server reflection sends them.
pub const DESCRIPTORS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/descriptors.bin"));
