//! Times reading and checking of large jobs, as whole processes.
#![expect(clippy::print_stdout, reason = "this is what a benchmark is for")]
mod installation;
use installation::*;
fn main() -> std::io::Result<()> {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).unwrap_or("/tmp/scale".into()));
    for shape in SHAPES { for n in [1000, 10000] {
        let i = Installation::of(shape, n, 1);
        println!("{shape:?} {n}: {} devices {} cores {} bytes", i.devices, i.cores, i.text.len());
        std::fs::write(folder.join(format!("{shape:?}-{n}.yaml")), i.text)?;
    }}
    for group in [2, 3, 4, 6, 12, 20, 60] {
        std::fs::write(folder.join(format!("relays-{group}.yaml")), Installation::interlocked(60, group).text)?;
    }
    Ok(())
}
