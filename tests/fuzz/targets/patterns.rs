#![no_main]

#[path = "../bodies/patterns.rs"]
mod patterns;

#[global_allocator]
static BUDGET: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, 256 << 20);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| patterns::read(bytes));
