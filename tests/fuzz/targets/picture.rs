#![no_main]

#[path = "../bodies/picture.rs"]
mod picture;

#[global_allocator]
static BUDGET: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, 96 << 20);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| picture::read(bytes));
