//! A connection without a socket: what is sent and what is answered stand in memory, and all between is what [`super::serve`] does.
//!
//! For whatever has to send many requests and must not wait for the system's sockets, such as tests that look for bytes which bring a server
//! down.

use super::asks::Asks;
use super::gate::Token;
use super::serve::{Hall, runtime, talk};
use hyper::rt::{Read, ReadBufCursor, Write};
use std::io;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

/// A server that nothing listens for.
pub struct Wire<D> {
    runtime: tokio::runtime::Runtime,
    hall: Arc<Hall<D>>,
}

impl<D: Asks> Wire<D> {
    /// A server of a desk, as if it listened at a port of this machine.
    ///
    /// # Errors
    /// The system has no threads.
    pub fn new(desk: Arc<D>, port: u16, token: Token) -> io::Result<Self> {
        Ok(Self { runtime: runtime()?, hall: Arc::new(Hall::new(desk, token, port)) })
    }

    /// What a connection is answered on which these bytes are sent and then nothing more: none or more answers of HTTP, one after the other.
    pub fn answers(&self, sent: &[u8]) -> Vec<u8> {
        let mut memory = Memory { sent, answered: Vec::new() };
        self.runtime.block_on(talk(self.hall.clone(), self.hall.enter(), &mut memory));
        memory.answered
    }
}

/// Both ends of a connection.
struct Memory<'a> {
    sent: &'a [u8],
    answered: Vec<u8>,
}

impl Read for Memory<'_> {
    fn poll_read(mut self: Pin<&mut Self>, _: &mut Context<'_>, mut buffer: ReadBufCursor<'_>) -> Poll<io::Result<()>> {
        let (now, later) = self.sent.split_at(self.sent.len().min(buffer.remaining()));
        buffer.put_slice(now);
        self.sent = later;
        Poll::Ready(Ok(()))
    }
}

impl Write for Memory<'_> {
    fn poll_write(mut self: Pin<&mut Self>, _: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        self.answered.extend_from_slice(bytes);
        Poll::Ready(Ok(bytes.len()))
    }

    fn poll_flush(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }

    fn poll_shutdown(self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<io::Result<()>> {
        Poll::Ready(Ok(()))
    }
}
