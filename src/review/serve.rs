//! The server: one thread that speaks with all connections, and a few that work.
//!
//! No connection holds a thread. There are at most so many connections; beyond that the one that has been idle longest goes, those that never
//! showed the token first, so that a thousand that say nothing, half of something, or never read their answer do not stop the page. What is
//! asked for waits for one of the working threads; a fault in one is told as such and ends nothing else.

use super::asks::{Asks, Refusal};
use super::gate::{Gate, Let, Token};
use super::route::{self, Reply};
use http_body_util::{BodyExt, Full};
use hyper::body::{Body, Bytes, Incoming};
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::rt::{Read, Write};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::collections::BTreeMap;
use std::convert::Infallible;
use std::io;
use std::net::{Ipv4Addr, TcpListener};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::Semaphore;
use tokio::task::AbortHandle;

/// Connections held at once. A browser uses six.
const CONNECTIONS: usize = 200;
/// Threads that answer: tiles come in handfuls, and each is straightened by all cores.
const WORKERS: usize = 4;
/// Requests that wait for them or are worked on.
const WAITING: usize = 64;
/// Longest body, bytes.
const LONGEST: usize = 256 << 10;
/// What is read of a longer one before it is refused, so that the refusal is read and not cut off.
const READ_ON: usize = 2 << 20;
/// Room for a request's first line and headers, bytes, and how many headers there may be.
const HEAD: usize = 16 << 10;
const HEADERS: usize = 64;
/// How long a request's head, and its body, may take.
const HEAD_TIME: Duration = Duration::from_secs(20);
const BODY_TIME: Duration = Duration::from_secs(15);
/// How long a request may wait for a thread.
const PATIENCE: Duration = Duration::from_secs(60);
/// How long work that was begun is waited for at the end.
const PARTING: Duration = Duration::from_secs(10);
/// How long to wait when the system has no connections to give.
const BREATH: Duration = Duration::from_millis(50);

/// What a browser may do with the page: its own parts, nothing from elsewhere, in no frame.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

/// A port of this machine, and of no other, to serve at; 0 for any that is free.
///
/// # Errors
/// The port is taken.
pub fn listen(port: u16) -> io::Result<TcpListener> {
    TcpListener::bind((Ipv4Addr::LOCALHOST, port))
}

/// The address to open.
///
/// # Errors
/// The listener is closed.
pub fn address(listener: &TcpListener, token: &Token) -> io::Result<String> {
    Ok(format!("http://127.0.0.1:{}/{}/", listener.local_addr()?.port(), token.text()))
}

/// Serves the page until Ctrl-C, then waits for what was begun.
///
/// # Errors
/// The listener is one for other machines too, or the system has no threads.
pub fn serve<D: Asks>(desk: Arc<D>, listener: TcpListener, token: Token) -> io::Result<()> {
    let local = listener.local_addr()?;
    if !local.ip().is_loopback() {
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, "the page is served to this machine alone"));
    }
    listener.set_nonblocking(true)?;
    let runtime = runtime()?;
    let hall = Arc::new(Hall::new(desk, token, local.port()));
    runtime.block_on(async {
        let listener = tokio::net::TcpListener::from_std(listener)?;
        let taking = tokio::spawn(async move { welcome(&hall, &listener).await });
        let end = tokio::signal::ctrl_c().await;
        taking.abort();
        end
    })?;
    runtime.shutdown_timeout(PARTING);
    Ok(())
}

/// The thread that speaks with all connections, and those that work.
///
/// # Errors
/// The system has no threads.
pub(super) fn runtime() -> io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_current_thread().enable_all().max_blocking_threads(WORKERS).build()
}

/// All that requests share.
pub(super) struct Hall<D> {
    desk: Arc<D>,
    gate: Gate,
    slots: Arc<Semaphore>,
    guests: Mutex<BTreeMap<u64, Guest>>,
    /// Counts what happens, to tell what happened longest ago.
    clock: AtomicU64,
}

/// A connection.
struct Guest {
    task: Option<AbortHandle>,
    /// When it last began or ended a request.
    since: u64,
    /// Whether it waits for an answer.
    busy: bool,
    /// Whether it ever showed the token.
    known: bool,
}

/// Takes connections in.
async fn welcome<D: Asks>(hall: &Arc<Hall<D>>, listener: &tokio::net::TcpListener) {
    loop {
        let stream = match listener.accept().await {
            Ok((stream, _)) => stream,
            // Closed before it was taken in, or the system has no more of them to give.
            Err(_) => {
                hall.make_room();
                tokio::time::sleep(BREATH).await;
                continue;
            }
        };
        if hall.full() && !hall.make_room() {
            continue;
        }
        let id = hall.enter();
        // Answers are small: they are not to wait for more.
        drop(stream.set_nodelay(true));
        let task = tokio::spawn(talk(hall.clone(), id, TokioIo::new(stream)));
        hall.with(id, |guest| guest.task = Some(task.abort_handle()));
    }
}

/// Speaks with a guest until one of both is done.
pub(super) async fn talk<D: Asks>(hall: Arc<Hall<D>>, id: u64, stream: impl Read + Write + Unpin) {
    // Taken out again however this ends, also when it is told to.
    let _leaving = Leaving { hall: hall.clone(), id };
    let answering = service_fn(|request| answered(hall.clone(), id, request));
    let talk = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(HEAD)
        .max_headers(HEADERS)
        .serve_connection(stream, answering);
    // A connection that breaks is nobody's fault here.
    drop(talk.await);
}

struct Leaving<D: Asks> {
    hall: Arc<Hall<D>>,
    id: u64,
}

impl<D: Asks> Drop for Leaving<D> {
    fn drop(&mut self) {
        self.hall.guests().remove(&self.id);
    }
}

impl<D> Hall<D> {
    pub fn new(desk: Arc<D>, token: Token, port: u16) -> Self {
        Self {
            desk,
            gate: Gate::new(token, port),
            slots: Arc::new(Semaphore::new(WAITING)),
            guests: Mutex::default(),
            clock: AtomicU64::new(0),
        }
    }

    fn guests(&self) -> std::sync::MutexGuard<'_, BTreeMap<u64, Guest>> {
        self.guests.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn with(&self, id: u64, change: impl FnOnce(&mut Guest)) {
        if let Some(guest) = self.guests().get_mut(&id) {
            change(guest);
        }
    }

    fn now(&self) -> u64 {
        self.clock.fetch_add(1, Ordering::Relaxed)
    }

    /// Lets a guest in; gives the number it goes by.
    pub fn enter(&self) -> u64 {
        let id = self.now();
        self.guests().insert(id, Guest { task: None, since: id, busy: false, known: false });
        id
    }

    fn full(&self) -> bool {
        self.guests().len() >= CONNECTIONS
    }

    /// Sends the connection away that has been idle longest, one that never showed the token before all others; gives whether there was one.
    fn make_room(&self) -> bool {
        let mut guests = self.guests();
        let idle = guests.iter().filter(|(_, g)| !g.busy).min_by_key(|(_, g)| (g.known, g.since)).map(|(id, _)| *id);
        let gone = idle.and_then(|id| guests.remove(&id));
        if let Some(task) = gone.as_ref().and_then(|g| g.task.as_ref()) {
            task.abort();
        }
        gone.is_some()
    }
}

/// Answers one request.
async fn answered<D: Asks>(hall: Arc<Hall<D>>, id: u64, request: Request<Incoming>) -> Result<Response<Full<Bytes>>, Infallible> {
    let now = hall.now();
    hall.with(id, |guest| guest.since = now);
    let response = replied(&hall, id, request).await;
    let now = hall.now();
    hall.with(id, |guest| (guest.busy, guest.since) = (false, now));
    Ok(response)
}

async fn replied<D: Asks>(hall: &Arc<Hall<D>>, id: u64, request: Request<Incoming>) -> Response<Full<Bytes>> {
    let (head, body) = request.into_parts();
    let (name, query) = match hall.gate.lets(&head.method, &head.uri, &head.headers) {
        Ok(Let::In { name, query }) => (name, query),
        Ok(Let::On) => return onward(head.uri.path()),
        Err(refusal) => {
            drain(body).await;
            return response(Reply::refused(refusal));
        }
    };
    hall.with(id, |guest| (guest.known, guest.busy) = (true, true));
    let body = if head.method == Method::POST {
        match whole(body).await {
            Ok(body) => Some(body),
            Err(refusal) => return response(Reply::refused(refusal)),
        }
    } else {
        None
    };
    let slot = tokio::time::timeout(PATIENCE, hall.slots.clone().acquire_owned()).await;
    let Ok(Ok(slot)) = slot else {
        return response(Reply::refused(Refusal::new(503, "too much is asked at once; wait a moment and try again")));
    };
    let desk = hall.desk.clone();
    let work = tokio::task::spawn_blocking(move || {
        let _slot = slot;
        match body {
            Some(body) => route::told(&*desk, &name, &body),
            None => route::asked(&*desk, &name, &query),
        }
    });
    let fault =
        || Reply::refused(Refusal::new(500, "something went wrong here that should not; nothing else was touched, so load the page anew"));
    // A panic ends the work and not the server.
    response(work.await.unwrap_or_else(|_| fault()))
}

/// A body, up to the longest that is taken, however it is sent.
async fn whole(body: Incoming) -> Result<Vec<u8>, Refusal> {
    let long = || Refusal::new(413, format!("what was sent is longer than {} KB and was not read", LONGEST >> 10));
    if body.size_hint().lower() > LONGEST as u64 {
        drain(body).await;
        return Err(long());
    }
    let read = async {
        let (mut body, mut out) = (body, Vec::new());
        while let Some(frame) = body.frame().await {
            let frame = frame.map_err(|_| Refusal::new(400, "what was sent broke off; send it again"))?;
            if let Some(data) = frame.data_ref() {
                if out.len() + data.len() > LONGEST {
                    drain(body).await;
                    return Err(long());
                }
                out.extend_from_slice(data);
            }
        }
        Ok(out)
    };
    tokio::time::timeout(BODY_TIME, read).await.unwrap_or_else(|_| Err(Refusal::new(408, "what was sent came too slowly; send it again")))
}

/// Reads on for a while what is not wanted: whoever sends it reads the answer only then.
async fn drain(mut body: Incoming) {
    let read = async {
        let mut left = READ_ON;
        while let Some(Ok(frame)) = body.frame().await {
            left = left.saturating_sub(frame.data_ref().map_or(1, Bytes::len));
            if left == 0 {
                break;
            }
        }
    };
    drop(tokio::time::timeout(Duration::from_secs(2), read).await);
}

/// The page stands below its address with a stroke at the end.
fn onward(path: &str) -> Response<Full<Bytes>> {
    let mut out = response(Reply::refused(Refusal::new(308, "the page is one stroke further on")));
    if let Ok(to) = HeaderValue::from_str(&format!("{path}/")) {
        out.headers_mut().insert(header::LOCATION, to);
    }
    out
}

fn response(reply: Reply) -> Response<Full<Bytes>> {
    let lasting = reply.lasting && reply.status == 200;
    let keep = if lasting { "private, max-age=31536000, immutable" } else { "no-store" };
    let status = StatusCode::from_u16(reply.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let mut out = Response::new(Full::new(Bytes::from(reply.body)));
    *out.status_mut() = status;
    let headers = out.headers_mut();
    let mut put = |name: HeaderName, value: &'static str| drop(headers.insert(name, HeaderValue::from_static(value)));
    put(header::CONTENT_TYPE, reply.kind);
    put(header::CACHE_CONTROL, keep);
    put(header::CONTENT_SECURITY_POLICY, POLICY);
    put(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    put(header::REFERRER_POLICY, "no-referrer");
    put(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    put(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    if status == StatusCode::METHOD_NOT_ALLOWED {
        put(header::ALLOW, "GET, POST");
    }
    out
}
