//! How long the sending path takes: `cargo bench --bench live`.

fn main() {
    divan::main();
}
