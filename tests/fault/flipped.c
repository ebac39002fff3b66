/* One changed bit at a time in a store: `verify` tells it, or the store holds exactly what it held. Bits are taken page by
 * page, several of each page and every one of the header. Usage: flipped [BITS-A-PAGE] */
#include "disk.h"
#include "scenes.h"

#include "ridgetally/base/file.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PAGE = 4096, HEADER = 100 };

static struct {
    unsigned char *bytes;
    size_t length;
    uint64_t content;
    long tried, told, harmless, missed, unseen_by_sqlite;
} flips;

static void write_store(const char *path)
{
    FILE *stream = fopen(path, "wb");
    if (stream == NULL || fwrite(flips.bytes, 1, flips.length, stream) != flips.length || fclose(stream) != 0)
        exit(1);
}

/* content_of before anything else would see a flip that SQLite's own check sees too; it is counted, to say what the seals
 * add. */
static void flip(size_t bit)
{
    const char *words = "";
    uint64_t content;
    const char *path = scene_path(cut_folder(), "store.db");
    flips.bytes[bit / 8] ^= (unsigned char)(1u << (bit % 8));
    write_store(path);
    flips.tried++;
    bool told = !verifies(path, &words);
    write_store(path);
    bool sound = content_of(path, &content, &words);
    flips.told += told;
    flips.unseen_by_sqlite += told && sound && content != flips.content;
    if (!told && sound && content == flips.content)
        flips.harmless++;
    else if (!told) {
        flips.missed++;
        printf("flipped: bit %zu of byte %zu is not seen: %s\n", bit % 8, bit / 8, words);
    }
    flips.bytes[bit / 8] ^= (unsigned char)(1u << (bit % 8));
    remove(scene_path(cut_folder(), "store.db-journal"));
}

int main(int argc, char **argv)
{
    long each = argc > 1 ? atol(argv[1]) : 8;
    const char *words = "";
    char *bytes = NULL;
    struct scene full = {.name = "sound store", .start = "full.db"};
    disk_install();
    scenes_prepare();
    scene_set_up(&full);
    const char *path = scene_path(disk_folder(), "store.db");
    if (!content_of(path, &flips.content, &words) || !verifies(path, &words) ||
        rt_read_file(path, 1 << 28, &bytes, &flips.length, NULL) != RT_OK) {
        printf("flipped: the store to begin with is not sound: %s\n", words);
        return 1;
    }
    flips.bytes = (unsigned char *)bytes;
    uint64_t random = 20260101;
    for (size_t byte = 0; byte < HEADER; byte++)
        flip(byte * 8 + byte % 8);
    for (size_t page = 0; page < flips.length / PAGE; page++) {
        for (long i = 0; i < each; i++) {
            random = random * 6364136223846793005u + 1442695040888963407u;
            flip(page * PAGE * 8 + (size_t)(random >> 33) % (PAGE * 8));
        }
    }
    scenes_remove();
    free(bytes);
    printf("flipped: %ld bits of %zu pages changed in turn: %ld told by verify, %ld harmless, %ld missed; of "
           "those told, "
           "%ld changed what the store holds and SQLite's own check saw nothing\n",
           flips.tried, flips.length / PAGE, flips.told, flips.harmless, flips.missed,
           flips.unseen_by_sqlite);
    return flips.missed == 0 && flips.unseen_by_sqlite > 0 ? 0 : 1;
}
