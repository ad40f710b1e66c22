import { answerCalls } from '../worker/answer-calls.ts';
import { createRecordingReplay } from './recording-replayer.ts';

answerCalls(createRecordingReplay);
