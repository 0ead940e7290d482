//! Who may ask: only a browser on this machine that was given the address, from the page itself.
//!
//! Any page in any browser on this machine can send requests to a port of it. So a request must name the token of 128 random bits that stands
//! in the address; its `Host` must be this machine, or a name that somebody points at it would do (DNS rebinding); and what changes something
//! must come from the page's own origin (RFC 6454; Fetch Metadata, W3C).

use super::asks::{Answer, Refusal};
use hyper::header::{CONTENT_TYPE, HOST, HeaderMap, HeaderName, HeaderValue, ORIGIN};
use hyper::{Method, Uri};

/// Longest address, bytes.
const LONGEST: usize = 4096;
/// Random bytes of a token.
const BYTES: usize = 16;

/// The secret part of the address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Token(String);

impl Token {
    /// A new one, from the system's random numbers.
    ///
    /// # Errors
    /// The system has none to give.
    pub fn new() -> std::io::Result<Self> {
        let mut bytes = [0; BYTES];
        getrandom::fill(&mut bytes).map_err(std::io::Error::other)?;
        Ok(Self(format!("{:032x}", u128::from_be_bytes(bytes))))
    }

    /// Its text.
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether a text is this token; it takes as long whatever the text is.
    fn is(&self, text: &str) -> bool {
        let (own, other) = (self.0.as_bytes(), text.as_bytes());
        own.len() == other.len() && own.iter().zip(other).fold(0, |off, (a, b)| off | (a ^ b)) == 0
    }
}

/// What was let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Let {
    /// The part of the page, or the question, that is asked for.
    In { name: String, query: String },
    /// The address without its last stroke, below which nothing would be found.
    On,
}

/// The gate of a server at a port of this machine.
#[derive(Clone, Debug)]
pub(super) struct Gate {
    token: Token,
    hosts: [String; 3],
}

impl Gate {
    pub fn new(token: Token, port: u16) -> Self {
        Self { token, hosts: ["127.0.0.1", "localhost", "[::1]"].map(|h| format!("{h}:{port}")) }
    }

    /// Lets a request in, or says why not.
    ///
    /// # Errors
    /// Too long an address, a foreign host or origin, a wrong token, a method that is neither asking nor telling, a body that is no JSON.
    pub fn lets(&self, method: &Method, uri: &Uri, headers: &HeaderMap) -> Answer<Let> {
        let path = uri.path();
        if path.len() + uri.query().map_or(0, str::len) > LONGEST {
            return Err(Refusal::new(414, "the address is longer than any of this page; load the page anew"));
        }
        self.host(uri, headers)?;
        self.origin(method, headers)?;
        let (token, name) = self.parts(path);
        // What is asked for is told to nobody who does not know the token, nor whether it is there.
        if !self.token.is(token) {
            return Err(Refusal::new(403, "this is not the address of the page; open the one that ruboff review printed"));
        }
        match *method {
            Method::GET => {}
            Method::POST => json(headers)?,
            _ => return Err(Refusal::new(405, "only GET and POST are answered here")),
        }
        let Some(name) = name else { return Ok(Let::On) };
        if !name.bytes().all(|b| b.is_ascii_alphanumeric() || b"._-".contains(&b)) || name.starts_with('.') {
            return Err(Refusal::new(404, "there is nothing of that name here; load the page anew"));
        }
        Ok(Let::In { name: name.to_owned(), query: uri.query().unwrap_or_default().to_owned() })
    }

    /// The token of a path, and what follows it.
    fn parts<'a>(&self, path: &'a str) -> (&'a str, Option<&'a str>) {
        let path = path.strip_prefix('/').unwrap_or_default();
        path.split_once('/').map_or((path, None), |(token, name)| (token, Some(name)))
    }

    fn host(&self, uri: &Uri, headers: &HeaderMap) -> Answer<()> {
        let own = |host: &str| self.hosts.iter().any(|h| h.eq_ignore_ascii_case(host));
        let named = one(headers, &HOST)?.is_some_and(own);
        let asked = uri.authority().is_none_or(|a| own(a.as_str()));
        if named && asked {
            Ok(())
        } else {
            Err(Refusal::new(403, "this page is for this machine alone; open the address that ruboff review printed"))
        }
    }

    fn origin(&self, method: &Method, headers: &HeaderMap) -> Answer<()> {
        let foreign = || Err(Refusal::new(403, "this comes from another page and is refused; use the page that ruboff review serves"));
        let own = |origin: &str| origin.strip_prefix("http://").is_some_and(|host| self.hosts.iter().any(|h| h.eq_ignore_ascii_case(host)));
        match one(headers, &ORIGIN)? {
            Some(origin) if !own(origin) => return foreign(),
            None if *method != Method::GET => return foreign(),
            _ => {}
        }
        match one(headers, &HeaderName::from_static("sec-fetch-site"))? {
            None | Some("same-origin" | "none") => Ok(()),
            Some(_) => foreign(),
        }
    }
}

/// A header that may stand there once.
fn one<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Answer<Option<&'a str>> {
    let mut all = headers.get_all(name).iter();
    let first = all.next().map(HeaderValue::to_str).transpose();
    match (first, all.next()) {
        (Ok(first), None) => Ok(first),
        _ => Err(Refusal::new(403, format!("the header {name} is no good"))),
    }
}

/// Sees that a body says it is JSON, which no form of another page can.
fn json(headers: &HeaderMap) -> Answer<()> {
    let kind = one(headers, &CONTENT_TYPE)?.unwrap_or_default();
    let essence = kind.split(';').next().unwrap_or_default().trim();
    if essence.eq_ignore_ascii_case("application/json") { Ok(()) } else { Err(Refusal::new(415, "only application/json is taken here")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gate() -> Gate {
        Gate::new(Token("0123456789abcdef0123456789abcdef".into()), 8111)
    }

    fn asked(method: &str, uri: &str, headers: &[(&str, &str)]) -> Result<Let, u16> {
        let map = headers.iter().fold(HeaderMap::new(), |mut map, (k, v)| {
            map.append(HeaderName::from_bytes(k.as_bytes()).expect("a name"), HeaderValue::from_str(v).expect("a value"));
            map
        });
        gate().lets(&method.parse().expect("a method"), &uri.parse().expect("an address"), &map).map_err(|r| {
            assert!((15..=300).contains(&r.say.chars().count()), "{}", r.say);
            r.status
        })
    }

    const OWN: &str = "/0123456789abcdef0123456789abcdef";
    const HOST: (&str, &str) = ("host", "127.0.0.1:8111");
    const JSON: (&str, &str) = ("content-type", "application/json; charset=utf-8");
    const FROM: (&str, &str) = ("origin", "http://127.0.0.1:8111");

    #[test]
    fn the_page_gets_in() {
        let let_in = |name: &str, query: &str| Ok(Let::In { name: name.into(), query: query.into() });
        assert_eq!(asked("GET", &format!("{OWN}/"), &[HOST]), let_in("", ""));
        assert_eq!(asked("GET", OWN, &[HOST]), Ok(Let::On));
        for host in ["localhost:8111", "LOCALHOST:8111", "[::1]:8111"] {
            assert_eq!(
                asked("GET", &format!("{OWN}/look?at=a%2Fb"), &[("host", host), ("sec-fetch-site", "same-origin")]),
                let_in("look", "at=a%2Fb")
            );
        }
        assert_eq!(asked("POST", &format!("{OWN}/mend"), &[HOST, JSON, FROM]), let_in("mend", ""));
        assert_eq!(asked("POST", &format!("{OWN}/mend"), &[HOST, JSON, ("origin", "http://localhost:8111")]), let_in("mend", ""));
    }

    #[test]
    fn others_do_not() {
        let page = format!("{OWN}/");
        let mend = format!("{OWN}/mend");
        for (uri, host) in [
            (page.as_str(), "evil.example:8111"),
            (&page, "127.0.0.1"),
            (&page, "127.0.0.1:80"),
            (&page, "127.0.0.1:8111.evil.example"),
            (&page, ""),
            (&page, "user@127.0.0.1:8111"),
            ("http://evil.example/0123456789abcdef0123456789abcdef/", "127.0.0.1:8111"),
            ("/", "127.0.0.1:8111"),
            ("/0123456789abcdef0123456789abcdee/", "127.0.0.1:8111"),
            ("/0123456789abcdef0123456789abcde/", "127.0.0.1:8111"),
            ("/0123456789ABCDEF0123456789ABCDEF/", "127.0.0.1:8111"),
            ("/%30123456789abcdef0123456789abcdef/", "127.0.0.1:8111"),
            ("//0123456789abcdef0123456789abcdef/", "127.0.0.1:8111"),
        ] {
            assert_eq!(asked("GET", uri, &[("host", host)]), Err(403), "{uri} {host}");
        }
        assert_eq!(asked("GET", &page, &[]), Err(403));
        assert_eq!(asked("GET", &page, &[HOST, HOST]), Err(403));
        for from in ["http://evil.example", "null", "https://127.0.0.1:8111", "http://127.0.0.1:8112", "http://127.0.0.1:8111/", ""] {
            assert_eq!(asked("POST", &mend, &[HOST, JSON, ("origin", from)]), Err(403), "{from}");
            assert_eq!(asked("GET", &page, &[HOST, ("origin", from)]), Err(403), "{from}");
        }
        assert_eq!(asked("POST", &mend, &[HOST, JSON]), Err(403));
        assert_eq!(asked("POST", &mend, &[HOST, JSON, FROM, FROM]), Err(403));
        for site in ["cross-site", "same-site", "?"] {
            assert_eq!(asked("GET", &page, &[HOST, ("sec-fetch-site", site)]), Err(403), "{site}");
        }
        for kind in ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/jsonp", ""] {
            assert_eq!(asked("POST", &mend, &[HOST, FROM, ("content-type", kind)]), Err(415), "{kind}");
        }
        for method in ["PUT", "DELETE", "HEAD", "OPTIONS", "TRACE", "BREW"] {
            assert_eq!(asked(method, &page, &[HOST, FROM]), Err(405), "{method}");
        }
        for name in ["..", "../look", "..%2flook", "%2e%2e/", "a/b", "/etc/passwd", "look%00", ".git", "%5c..%5c", "look\\"] {
            let uri = format!("{OWN}/{name}").replace('\\', "%5c");
            assert_eq!(asked("GET", &uri, &[HOST]), Err(404), "{name}");
        }
        assert_eq!(asked("GET", &format!("{OWN}/look?at={}", "x".repeat(5000)), &[HOST]), Err(414));
    }

    #[test]
    fn tokens_differ_and_have_128_bits() {
        let [a, b] = [Token::new().expect("random"), Token::new().expect("random")];
        assert!(a != b && a.text().len() == 32 && a.text().bytes().all(|c| c.is_ascii_hexdigit()));
        assert!(a.is(a.text()) && !a.is(b.text()) && !a.is("") && !a.is(&format!("{}0", a.text())));
    }
}
