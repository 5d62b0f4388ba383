// @ts-check
/* What was dropped on a page or chosen: one video, or words for what else it is. */

/**
 * One thing that was dropped. @typedef {{name: string, type: string, size: number, folder: boolean, file: boolean}} Dropped
 */

const ENDINGS = /\.(mp4|m4v|mov|qt|mkv|webm|avi|mts|m2ts|ts|mpg|mpeg|wmv|3gp|3g2|flv|ogv|asf|mxf|vob|dv|264|h264|265|hevc)$/i;

/**
 * Why what was dropped cannot begin a match; empty where it is one video.
 * @param {readonly Dropped[]} dropped
 */
export function notOneVideo(dropped) {
  const [first] = dropped;
  if (!first || !first.file) return 'What was dropped is not a file. Drop a video file, or choose one.';
  if (dropped.length > 1)
    return `${dropped.length} files were dropped. Drop one video: it begins one match. If a second video belongs to the same match, add it afterwards on its Footage page.`;
  if (first.folder) return `“${first.name}” is a folder. Open it and drop the video itself.`;
  if (!first.type.startsWith('video/') && !ENDINGS.test(first.name))
    return `“${first.name}” is not a video. Drop a video file, such as an MP4 or MOV from a phone or camera.`;
  if (first.size === 0) return `“${first.name}” is empty. Copy the video from the camera again.`;
  return '';
}

/**
 * What a drop holds, and its first file.
 * @param {DataTransfer} transfer @returns {{dropped: Dropped[], file: File | null}}
 */
export function readDrop(transfer) {
  const dropped = Array.from(transfer.items, (entry) => {
    const file = entry.kind === 'file' ? entry.getAsFile() : null;
    const folder = entry.webkitGetAsEntry?.()?.isDirectory ?? false;
    return { name: file?.name ?? '', type: file?.type ?? '', size: file?.size ?? 0, folder, file: entry.kind === 'file' };
  });
  return { dropped, file: transfer.files[0] ?? null };
}
