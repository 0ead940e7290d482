//! Stored samples to three bytes a pixel: grey, alpha on white, inks, 16 bits to 8.

/// What one stored pixel is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Channels {
    Gray,
    GrayAlpha,
    Rgb,
    Rgba,
    /// Inks, 255 = full.
    Cmyk,
    /// Luma and chroma as JFIF 1.02 has them (ITU-R BT.601, full range).
    Ycc,
}

impl Channels {
    pub fn count(self) -> usize {
        match self {
            Self::Gray => 1,
            Self::GrayAlpha => 2,
            Self::Rgb | Self::Ycc => 3,
            Self::Rgba | Self::Cmyk => 4,
        }
    }

    /// Fills `rgb` (three bytes a pixel) from as many pixels of 8-bit samples.
    pub fn to_rgb(self, samples: &[u8], rgb: &mut [u8]) {
        let out = rgb.as_chunks_mut::<3>().0.iter_mut();
        match self {
            Self::Gray => out.zip(samples).for_each(|(p, v)| *p = [*v; 3]),
            Self::GrayAlpha => out.zip(samples.as_chunks::<2>().0).for_each(|(p, [v, a])| *p = [on_white(*v, *a); 3]),
            Self::Rgb => rgb.copy_from_slice(&samples[..rgb.len()]),
            Self::Rgba => out.zip(samples.as_chunks::<4>().0).for_each(|(p, [r, g, b, a])| *p = [*r, *g, *b].map(|v| on_white(v, *a))),
            Self::Cmyk => {
                out.zip(samples.as_chunks::<4>().0).for_each(|(p, [c, m, y, k])| *p = [*c, *m, *y].map(|v| times(255 - v, 255 - k)))
            }
            Self::Ycc => out.zip(samples.as_chunks::<3>().0).for_each(|(p, ycc)| *p = rgb_of_ycc(*ycc)),
        }
    }
}

/// JFIF 1.02: R = Y + 1.402 (Cr - 128), G = Y - 0.34414 (Cb - 128) - 0.71414 (Cr - 128), B = Y + 1.772 (Cb - 128).
fn rgb_of_ycc([y, cb, cr]: [u8; 3]) -> [u8; 3] {
    let (y, cb, cr) = (f32::from(y), f32::from(cb) - 128.0, f32::from(cr) - 128.0);
    [y + 1.402 * cr, y - 0.34414 * cb - 0.71414 * cr, y + 1.772 * cb].map(|v| v.round().clamp(0.0, 255.0) as u8)
}

/// a × b of bytes that stand for 0 to 1, rounded.
fn times(a: u8, b: u8) -> u8 {
    ((u32::from(a) * u32::from(b) + 127) / 255) as u8
}

fn on_white(v: u8, alpha: u8) -> u8 {
    times(v, alpha) + (255 - alpha)
}

/// 0..=65535 to 0..=255, rounded.
pub(super) fn byte(v: u16) -> u8 {
    ((u32::from(v) + 128) / 257) as u8
}

/// Grey samples of 1, 2 or 4 bits, packed from the high bit on, to whole bytes.
pub(super) fn unpack(bits: u8, packed: &[u8], out: &mut [u8]) {
    let per_byte = 8 / usize::from(bits);
    let top = (1u16 << bits) - 1;
    for (k, v) in out.iter_mut().enumerate() {
        let shift = 8 - bits as usize * (k % per_byte + 1);
        *v = ((u16::from(packed[k / per_byte]) >> shift & top) * 255 / top) as u8;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(channels: Channels, samples: &[u8]) -> [u8; 3] {
        let mut rgb = [0; 3];
        channels.to_rgb(samples, &mut rgb);
        rgb
    }

    #[test]
    fn pixels_of_all_makes() {
        assert_eq!(one(Channels::Gray, &[7]), [7; 3]);
        assert_eq!(one(Channels::GrayAlpha, &[0, 0]), [255; 3]);
        assert_eq!(one(Channels::Rgba, &[10, 20, 30, 255]), [10, 20, 30]);
        assert_eq!(one(Channels::Rgba, &[0, 255, 100, 128]), [127, 255, 177]);
        assert_eq!(one(Channels::Cmyk, &[0, 0, 0, 0]), [255; 3]);
        assert_eq!(one(Channels::Cmyk, &[0, 0, 0, 255]), [0; 3]);
        assert_eq!(one(Channels::Cmyk, &[255, 0, 0, 0]), [0, 255, 255]);
        assert_eq!(one(Channels::Ycc, &[76, 85, 255]), [254, 0, 0]);
        assert_eq!([byte(0), byte(65535), byte(32768), byte(257)], [0, 255, 128, 1]);
        let mut out = [0; 9];
        unpack(1, &[0b1010_0000, 0b1000_0000], &mut out);
        assert_eq!(out, [255, 0, 255, 0, 0, 0, 0, 0, 255]);
        unpack(4, &[0x0F, 0x80, 0, 0, 0], &mut out);
        assert_eq!(out[..3], [0, 255, 136]);
    }
}
