#include "disk_model.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { MOST_FILES = 64, MOST_NAMES = 32 };

struct content {
    unsigned char *bytes;
    size_t length;
};

struct name {
    char name[64]; /* "" = free */
    int file;
};

/* All that is watched: one recording at a time. */
static struct {
    char folder[128];
    bool on;
    struct name now[MOST_NAMES];   /* as the program sees it */
    struct name start[MOST_NAMES]; /* when the watch began */
    struct content first[MOST_FILES];
    int files, first_files;
    struct operation *operations;
    size_t count, room;
} watch;

/* The disk while the recording is walked through: what is safe, and what happened since. */
static struct {
    struct content safe[MOST_FILES];
    struct name names[MOST_NAMES];
    size_t next;
    size_t *pending; /* numbers of operations that are not synced, in order */
    size_t pending_count, pending_room;
} disk;

static struct {
    struct content files[MOST_FILES];
    struct name names[MOST_NAMES];
} cut;

static void die(const char *what)
{
    fprintf(stderr, "disk: %s\n", what);
    abort();
}

static void *must(void *block)
{
    if (block == NULL)
        die("no memory");
    return block;
}

/* --- names -------------------------------------------------------------------------------------------------- */

bool model_watches(const char *path)
{
    size_t length = strlen(watch.folder);
    return watch.on && path != NULL && strncmp(path, watch.folder, length) == 0 && path[length] == '/' &&
           strchr(path + length + 1, '/') == NULL;
}

static const char *within(const char *path)
{
    return path + strlen(watch.folder) + 1;
}

static struct name *find(struct name names[MOST_NAMES], const char *name)
{
    for (size_t i = 0; i < MOST_NAMES; i++)
        if (strcmp(names[i].name, name) == 0)
            return &names[i];
    return NULL;
}

static void set_name(struct name names[MOST_NAMES], const char *name, int file)
{
    struct name *slot = find(names, name);
    if (slot == NULL)
        slot = find(names, "");
    if (slot == NULL || strlen(name) >= sizeof slot->name)
        die("too many names, or too long a one");
    snprintf(slot->name, sizeof slot->name, "%s", name);
    slot->file = file;
}

static void drop_name(struct name names[MOST_NAMES], const char *name)
{
    struct name *slot = find(names, name);
    if (slot != NULL)
        slot->name[0] = '\0';
}

static void apply_name(struct name names[MOST_NAMES], const struct operation *operation)
{
    struct name *slot = NULL;
    switch (operation->kind) {
    case NAME_MADE:
        set_name(names, operation->name, operation->file);
        break;
    case NAME_GONE:
        drop_name(names, operation->name);
        break;
    case NAME_CHANGED: /* nothing when its first name never came to be */
        slot = find(names, operation->name);
        if (slot != NULL) {
            int file = slot->file;
            drop_name(names, operation->name);
            set_name(names, operation->other, file);
        }
        break;
    default:
        break;
    }
}

int model_file(const char *path)
{
    struct name *slot = model_watches(path) ? find(watch.now, within(path)) : NULL;
    return slot == NULL ? -1 : slot->file;
}

/* --- recording ---------------------------------------------------------------------------------------------- */

void model_record(enum operation_kind kind, int file, const char *path, const char *other, size_t at,
                  const void *bytes, size_t length)
{
    if (!watch.on)
        return;
    if (watch.count == watch.room) {
        watch.room = watch.room * 2 + 256;
        watch.operations = must(realloc(watch.operations, watch.room * sizeof *watch.operations));
    }
    struct operation *made = &watch.operations[watch.count++];
    *made = (struct operation){.kind = kind, .file = file, .at = at, .length = length};
    if (path != NULL)
        snprintf(made->name, sizeof made->name, "%s", within(path));
    if (other != NULL)
        snprintf(made->other, sizeof made->other, "%s", within(other));
    if (bytes != NULL && length > 0) {
        made->bytes = must(malloc(length));
        memcpy(made->bytes, bytes, length);
    }
    apply_name(watch.now, made);
}

int model_make(const char *path)
{
    if (watch.files == MOST_FILES)
        die("too many files");
    int file = watch.files++;
    model_record(NAME_MADE, file, path, NULL, 0, NULL, 0);
    return file;
}

static void read_content(const char *path, struct content *content)
{
    FILE *stream = fopen(path, "rb");
    if (stream == NULL || fseek(stream, 0, SEEK_END) != 0)
        die("cannot read a file");
    content->length = (size_t)ftell(stream);
    content->bytes = must(malloc(content->length + 1));
    rewind(stream);
    if (fread(content->bytes, 1, content->length, stream) != content->length)
        die("cannot read a file");
    fclose(stream);
}

static void release_all(struct content *contents)
{
    for (size_t i = 0; i < MOST_FILES; i++) {
        free(contents[i].bytes);
        contents[i] = (struct content){NULL, 0};
    }
}

static void forget_recording(void)
{
    for (size_t i = 0; i < watch.count; i++)
        free(watch.operations[i].bytes);
    free(watch.operations);
    release_all(watch.first);
    memset(&watch, 0, sizeof watch);
}

void disk_watch(const char *folder)
{
    forget_recording();
    snprintf(watch.folder, sizeof watch.folder, "%s", folder);
    DIR *directory = opendir(folder);
    if (directory == NULL)
        die("cannot read the folder");
    for (struct dirent *entry = readdir(directory); entry != NULL; entry = readdir(directory)) {
        char path[400];
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        set_name(watch.start, entry->d_name, watch.files);
        read_content(path, &watch.first[watch.files++]);
    }
    closedir(directory);
    memcpy(watch.now, watch.start, sizeof watch.now);
    watch.first_files = watch.files;
    watch.on = true;
}

void disk_stop(void)
{
    watch.on = false;
}

size_t disk_recorded(void)
{
    return watch.count;
}

/* --- walking ------------------------------------------------------------------------------------------------ */

static void copy_content(struct content *to, const struct content *from)
{
    free(to->bytes);
    to->bytes = must(malloc(from->length + 1));
    if (from->length > 0)
        memcpy(to->bytes, from->bytes, from->length);
    to->length = from->length;
}

static void resize(struct content *content, size_t length)
{
    if (length > content->length) {
        content->bytes = must(realloc(content->bytes, length + 1));
        memset(content->bytes + content->length, 0, length - content->length);
    }
    content->length = length;
}

void disk_rewind(void)
{
    release_all(disk.safe);
    free(disk.pending);
    memset(&disk, 0, sizeof disk);
    for (int i = 0; i < watch.first_files; i++)
        copy_content(&disk.safe[i], &watch.first[i]);
    memcpy(disk.names, watch.start, sizeof disk.names);
}

static void apply_bytes(struct content *content, const struct operation *operation)
{
    if (operation->kind == FILE_TRUNCATE) {
        if (operation->at < content->length)
            resize(content, operation->at);
    } else if (operation->kind == FILE_WRITE) {
        if (operation->at + operation->length > content->length)
            resize(content, operation->at + operation->length);
        memcpy(content->bytes + operation->at, operation->bytes, operation->length);
    }
}

static bool is_of_names(const struct operation *operation)
{
    return operation->kind == NAME_MADE || operation->kind == NAME_GONE || operation->kind == NAME_CHANGED;
}

/* What was pending for this file, or for the folder, is safe now. */
static void settle(const struct operation *sync)
{
    size_t kept = 0;
    for (size_t i = 0; i < disk.pending_count; i++) {
        const struct operation *operation = &watch.operations[disk.pending[i]];
        bool names = is_of_names(operation);
        if (sync->kind == FOLDER_SYNC && names)
            apply_name(disk.names, operation);
        else if (sync->kind == FILE_SYNC && !names && operation->file == sync->file)
            apply_bytes(&disk.safe[operation->file], operation);
        else
            disk.pending[kept++] = disk.pending[i];
    }
    disk.pending_count = kept;
}

bool disk_step(void)
{
    if (disk.next == watch.count)
        return false;
    const struct operation *operation = &watch.operations[disk.next];
    if (operation->kind == FILE_SYNC || operation->kind == FOLDER_SYNC) {
        settle(operation);
    } else {
        if (disk.pending_count == disk.pending_room) {
            disk.pending_room = disk.pending_room * 2 + 64;
            disk.pending = must(realloc(disk.pending, disk.pending_room * sizeof *disk.pending));
        }
        disk.pending[disk.pending_count++] = disk.next;
    }
    disk.next++;
    return true;
}

/* --- cutting ------------------------------------------------------------------------------------------------ */

static uint32_t draw(uint64_t *state)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*state >> 33);
}

/* Each sector of the write reaches the disk, or not, or is noise. */
static void apply_sectors(struct content *content, const struct operation *operation, enum disk_fate fate,
                          size_t sector, uint32_t share, uint64_t *random)
{
    for (size_t at = operation->at; at < operation->at + operation->length;) {
        size_t end = (at / sector + 1) * sector;
        if (end > operation->at + operation->length)
            end = operation->at + operation->length;
        if (draw(random) % 100 < share) {
            if (end > content->length)
                resize(content, end);
            memcpy(content->bytes + at, operation->bytes + (at - operation->at), end - at);
            if (fate == DISK_NOISY && draw(random) % 8 == 0)
                for (size_t i = at; i < end; i++)
                    content->bytes[i] = (unsigned char)draw(random);
        }
        at = end;
    }
}

static uint64_t hash_of(void)
{
    uint64_t hash = 1469598103934665603u;
    for (size_t i = 0; i < MOST_NAMES; i++) {
        if (cut.names[i].name[0] == '\0')
            continue;
        const struct content *content = &cut.files[cut.names[i].file];
        for (const char *at = cut.names[i].name; *at != '\0'; at++)
            hash = (hash ^ (unsigned char)*at) * 1099511628211u;
        for (size_t at = 0; at < content->length; at++)
            hash = (hash ^ content->bytes[at]) * 1099511628211u;
        hash = (hash ^ content->length) * 1099511628211u;
    }
    return hash;
}

uint64_t disk_cut(enum disk_fate fate, uint32_t seed)
{
    static const uint32_t shares[] = {50, 10, 90};
    uint64_t random = seed * 2654435761u + 12345;
    size_t sector = seed % 2 == 0 ? 512 : 4096;
    uint32_t share = fate == DISK_LOST ? 0 : fate == DISK_KEPT ? 100 : shares[seed / 2 % 3];
    for (int i = 0; i < watch.files; i++)
        copy_content(&cut.files[i], &disk.safe[i]);
    memcpy(cut.names, disk.names, sizeof cut.names);
    for (size_t i = 0; i < disk.pending_count; i++) {
        const struct operation *operation = &watch.operations[disk.pending[i]];
        if (operation->kind == FILE_WRITE)
            apply_sectors(&cut.files[operation->file], operation, fate, sector, share, &random);
        else if (draw(&random) % 100 < share) {
            if (is_of_names(operation))
                apply_name(cut.names, operation);
            else
                apply_bytes(&cut.files[operation->file], operation);
        }
    }
    return hash_of();
}

void disk_empty(const char *folder)
{
    DIR *directory = opendir(folder);
    if (directory == NULL)
        die("cannot read the folder");
    for (struct dirent *entry = readdir(directory); entry != NULL; entry = readdir(directory)) {
        char path[400];
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (entry->d_name[0] != '.')
            remove(path);
    }
    closedir(directory);
}

void disk_write_cut(const char *to)
{
    disk_empty(to);
    for (size_t i = 0; i < MOST_NAMES; i++) {
        char path[400];
        if (cut.names[i].name[0] == '\0')
            continue;
        snprintf(path, sizeof path, "%s/%s", to, cut.names[i].name);
        const struct content *content = &cut.files[cut.names[i].file];
        FILE *stream = fopen(path, "wb");
        if (stream == NULL || fwrite(content->bytes, 1, content->length, stream) != content->length ||
            fclose(stream) != 0)
            die("cannot write a file");
    }
}
