#include "decode.h"

uint32_t windows_1252(unsigned char byte)
{
    static const uint16_t upper[32] = {0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021,
                                       0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0,      0x017D, 0,
                                       0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014,
                                       0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178};
    return byte >= 0x80 && byte <= 0x9f ? upper[byte - 0x80] : byte;
}

const char *encoding_name(enum rt_encoding encoding)
{
    switch (encoding) {
    case RT_ENCODING_UTF16_LE:
        return "UTF-16 LE";
    case RT_ENCODING_UTF16_BE:
        return "UTF-16 BE";
    case RT_ENCODING_WINDOWS_1252:
        return "Windows-1252";
    case RT_ENCODING_DETECT:
    case RT_ENCODING_UTF8:
        break;
    }
    return "UTF-8";
}

static void add_code_point(struct rt_text *out, uint32_t point)
{
    char bytes[4];
    size_t length = 0;
    if (point < 0x80) {
        bytes[length++] = (char)point;
    } else if (point < 0x800) {
        bytes[length++] = (char)(0xc0 | point >> 6);
        bytes[length++] = (char)(0x80 | (point & 0x3f));
    } else if (point < 0x10000) {
        bytes[length++] = (char)(0xe0 | point >> 12);
        bytes[length++] = (char)(0x80 | (point >> 6 & 0x3f));
        bytes[length++] = (char)(0x80 | (point & 0x3f));
    } else {
        bytes[length++] = (char)(0xf0 | point >> 18);
        bytes[length++] = (char)(0x80 | (point >> 12 & 0x3f));
        bytes[length++] = (char)(0x80 | (point >> 6 & 0x3f));
        bytes[length++] = (char)(0x80 | (point & 0x3f));
    }
    rt_text_add_bytes(out, bytes, length);
}

/* One 16-bit unit of UTF-16 (RFC 2781, section 2.2). */
static bool take_unit(struct decoder *decoder, uint32_t unit, struct rt_text *out)
{
    bool first = !decoder->started;
    decoder->started = true;
    if (first && unit == 0xfeff)
        return true;
    bool low = unit >= 0xdc00 && unit <= 0xdfff;
    if (low != (decoder->high != 0))
        return false;
    if (low) {
        add_code_point(out, 0x10000 + ((decoder->high - 0xd800) << 10) + (unit - 0xdc00));
        decoder->high = 0;
    } else if (unit >= 0xd800 && unit <= 0xdbff) {
        decoder->high = unit;
    } else {
        add_code_point(out, unit);
    }
    return true;
}

static bool decode_units(struct decoder *decoder, const unsigned char *bytes, size_t length,
                         struct rt_text *out)
{
    bool fits = true;
    for (size_t i = 0; fits && i < length; i++) {
        if (!decoder->half) {
            decoder->carry = bytes[i];
            decoder->half = true;
            continue;
        }
        bool little = decoder->encoding == RT_ENCODING_UTF16_LE;
        uint32_t high = little ? bytes[i] : decoder->carry;
        uint32_t low = little ? decoder->carry : bytes[i];
        decoder->half = false;
        fits = take_unit(decoder, high << 8 | low, out);
    }
    return fits;
}

bool decode_part(struct decoder *decoder, const unsigned char *bytes, size_t length, struct rt_text *out)
{
    switch (decoder->encoding) {
    case RT_ENCODING_UTF16_LE:
    case RT_ENCODING_UTF16_BE:
        return decode_units(decoder, bytes, length, out);
    case RT_ENCODING_WINDOWS_1252:
        for (size_t i = 0; i < length; i++) {
            uint32_t point = windows_1252(bytes[i]);
            if (point == 0 && bytes[i] != 0)
                return false;
            add_code_point(out, point);
        }
        return true;
    case RT_ENCODING_DETECT:
    case RT_ENCODING_UTF8:
        break;
    }
    rt_text_add_bytes(out, (const char *)bytes, length); /* checked by the reader */
    return true;
}

bool decode_ended(const struct decoder *decoder)
{
    return !decoder->half && decoder->high == 0;
}
