//! Compiles `proto/` without a protobuf compiler on the machine.

use std::path::{Path, PathBuf};
use std::{env, error, fs};

use prost::Message;

fn main() -> Result<(), Box<dyn error::Error>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../proto");
    println!("cargo:rerun-if-changed={}", root.display());
    let mut compiler = protox::Compiler::new([&root])?;
    compiler.include_imports(true).include_source_info(true);
    for file in ["baycast/v1/maturity.proto", "baycast/v1/plan_service.proto", "baycast/v1/records.proto"] {
        compiler.open_file(file)?;
    }
    let descriptors = compiler.file_descriptor_set();
    let out = PathBuf::from(env::var("OUT_DIR")?);
    fs::write(out.join("descriptors.bin"), descriptors.encode_to_vec())?;
    tonic_prost_build::configure().build_transport(false).compile_fds(descriptors)?;
    Ok(())
}
